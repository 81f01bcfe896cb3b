"""The microphone: devices, blocks as they come, what was lost, where a pluck begins."""
