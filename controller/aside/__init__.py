"""Work that takes a while, or may never end: in processes of their own, behind everything else.

A rig that shoots has no time to lose with it, and its memory is given back. Nothing is imported here, so that each of
these processes loads no more than its own work needs.
"""
