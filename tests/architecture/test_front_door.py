"""The front door loads what is asked for and nothing more."""

import subprocess
import sys

import tension

HEAVY = (
    "numpy",
    "scipy",
    "matplotlib",
    "av",
    "pydantic",
    "typst",
    "jinja2",
    "sounddevice",
)


def _loaded_by(code: str) -> set[str]:
    """Top-level packages loaded after running code in a fresh interpreter."""
    tail = (
        "; import sys; print(' '.join(sorted({n.split('.')[0] for n in sys.modules})))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code + tail], capture_output=True, text=True, check=True
    )
    return set(done.stdout.split())


def test_every_public_name_can_be_had() -> None:
    assert {"assess_record", "Verdict"} <= {*dir(tension)}
    assert tension.__version__
    for name in dir(tension):
        assert getattr(tension, name) is not None


def test_an_unknown_name_is_refused_as_python_does() -> None:
    assert not hasattr(tension, "no_such_name")


def test_importing_the_package_loads_nothing_heavy() -> None:
    loaded = _loaded_by("import tension")
    assert not loaded & {*HEAVY, "click"}


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; sys.argv=['tension','--help']\n"
        "from tension.cli.main import command\n"
        "try:\n command.main(standalone_mode=False)\n"
        "except SystemExit:\n pass\n"
        "pass"
    )
    loaded = _loaded_by(code)
    assert "click" in loaded
    assert not loaded & set(HEAVY)


def test_help_of_each_command_loads_no_sound_library() -> None:
    for name in ("assess", "pluck", "demo", "listen", "devices"):
        code = (
            f"import sys\nfrom tension.cli.main import command\n"
            f"command.main([{name!r}, '--help'], standalone_mode=False)\npass"
        )
        heavy = {"av", "pydantic", "matplotlib", "scipy", "sounddevice"}
        assert not _loaded_by(code) & heavy


def test_assessing_needs_no_scipy() -> None:
    loaded = _loaded_by("import tension; tension.assess_record; tension.hear_set")
    assert not loaded & {"scipy", "matplotlib", "click", "sounddevice"}
