"""Duskhand's rig: from a plan to a schedule, a frame, a log and a report."""
