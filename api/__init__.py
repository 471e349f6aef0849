"""REST, the event stream and the page, over the rig."""

from api.app import create_app

__all__ = ["create_app"]
