"""Every file that a person is to find is written here, and nowhere else.

A file that people may have filled in or changed is replaced only if it is byte for byte what the
planner wrote there, or if the caller forces it.
"""
