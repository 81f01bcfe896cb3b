"""The microphone: devices, blocks as they come, what was lost, where a pluck begins.

The only room that knows sounddevice, which is imported where a device is wanted.
"""
