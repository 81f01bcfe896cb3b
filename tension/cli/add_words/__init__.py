"""The words of ``tension add``, a file each."""
