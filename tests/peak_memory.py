"""Peak memory of a process of its own.

The accounting of `resource` also counts what the parent held when it forked, so that a
test would measure the test runner; the kernel's status file counts the process alone.
"""

PEAK_IN_MEGABYTES = """
def peak_in_megabytes():
    import re, resource
    from pathlib import Path
    status = Path("/proc/self/status")
    if status.exists():
        return int(re.search(r"VmHWM:\\s+(\\d+)", status.read_text())[1]) // 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
"""
