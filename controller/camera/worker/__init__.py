"""The camera process: all of libgphoto2 for one camera, so that a hang or a crash of it can be killed."""
