"""deploy/up must start on Windows and before anything is installed: its code is read for that.

Two stretches of road. Until the environment stands, only the standard library may be imported.
From there to the open port other packages may be, but still nothing that one system alone has.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from deploy.bootstrap import PROJECT

POSIX_MODULES = {
    *("fcntl", "grp", "posix", "pty", "pwd", "readline", "resource", "spwd", "syslog"),
    *("termios", "tty", "crypt", "nis", "ossaudiodev", "curses"),
}
POSIX_NAMES = {
    "os": {
        *("chown", "chroot", "fchmod", "fchown", "fork", "forkpty", "getegid", "geteuid", "getgid"),
        *("getgroups", "getloadavg", "getpgid", "getpgrp", "getuid", "initgroups", "killpg"),
        *("lchown", "mkfifo", "mknod", "nice", "openpty", "posix_spawn", "posix_spawnp"),
        *("sched_getaffinity", "setegid", "seteuid", "setgid", "setgroups", "setpgid", "setsid"),
        *("setuid", "statvfs", "sync", "ttyname", "uname", "wait", "wait3", "wait4", "O_CLOEXEC"),
        *("WEXITSTATUS", "WIFEXITED", "O_NOFOLLOW", "O_DIRECTORY", "O_SYNC", "O_DSYNC"),
        # On Windows these leave the caller's terminal before the new program is done with it.
        *("execl", "execle", "execlp", "execlpe", "execv", "execve", "execvp", "execvpe"),
    },
    "signal": {
        *("SIGALRM", "SIGCHLD", "SIGCONT", "SIGHUP", "SIGKILL", "SIGPIPE", "SIGQUIT", "SIGSTOP"),
        *("SIGTSTP", "SIGUSR1", "SIGUSR2", "alarm", "pause", "pthread_kill", "setitimer"),
        *("pthread_sigmask", "sigwait", "siginterrupt"),
    },
    "socket": {"AF_UNIX", "SO_REUSEPORT", "sethostname"},
    "time": {"tzset", "clock_gettime", "CLOCK_MONOTONIC"},
}
POSIX_KEYWORDS = {"preexec_fn", "start_new_session", "process_group", "pass_fds"}
SCRIPT = PROJECT / "deploy" / "up"
SERVICE = PROJECT / "deploy" / "launch.py"
# Named by a string in launch.py, because it can only be imported late.
NAMED_BY_STRING = [PROJECT / "deploy" / "serve.py", PROJECT / "deploy/settings/embedded.py"]


def imported(tree: ast.AST) -> Iterator[str]:
    """Every module that the code names in an import, wherever it stands."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports name the whole path here"
            assert node.module is not None
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def posix_only(tree: ast.AST) -> Iterator[str]:
    """What the code leans on that Windows lacks."""
    for module in imported(tree):
        if module.split(".")[0] in POSIX_MODULES:
            yield module
        owner, _, name = module.partition(".")
        if name in POSIX_NAMES.get(owner, ()):
            yield module
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if node.attr in POSIX_NAMES.get(node.value.id, ()):
                yield f"{node.value.id}.{node.attr}"
        elif isinstance(node, ast.keyword) and node.arg in POSIX_KEYWORDS:
            yield f"{node.arg}="
        elif isinstance(node, ast.Constant) and str(node.value).startswith(("/bin/", "/usr/")):
            yield str(node.value)


def road_from(*starts: Path) -> dict[Path, ast.Module]:
    """The files given and all of this project that they import, however far down."""
    trees: dict[Path, ast.Module] = {}
    waiting = list(starts)
    while waiting:
        path = waiting.pop()
        if path not in trees:
            trees[path] = ast.parse(path.read_text(encoding="utf-8"))
            waiting += filter(None, map(own_file, imported(trees[path])))
    return trees


def own_file(module: str) -> Path | None:
    path = PROJECT.joinpath(*module.split("."))
    candidates = [path.with_suffix(".py"), path / "__init__.py"]
    return next((file for file in candidates if file.is_file()), None)


def before_installing() -> dict[Path, ast.Module]:
    return road_from(SCRIPT, PROJECT / "deploy" / "__init__.py")


def test_before_installing_only_the_standard_library_is_imported():
    roads = before_installing()
    assert {"up", "bootstrap.py", "machine.py", "starting.py"} <= {path.name for path in roads}
    others = {
        module
        for tree in roads.values()
        for module in imported(tree)
        if module.split(".")[0] not in {*sys.stdlib_module_names, "deploy"}
    }
    assert others == set()


@pytest.mark.parametrize("starts", [[SCRIPT], [SERVICE, *NAMED_BY_STRING]], ids=["up", "service"])
def test_nothing_on_the_way_up_is_for_one_system_alone(starts):
    found = {path.name: set(posix_only(tree)) for path, tree in road_from(*starts).items()}
    assert {name: what for name, what in found.items() if what} == {}


def test_the_service_road_reaches_the_server():
    names = {path.name for path in road_from(SERVICE, *NAMED_BY_STRING)}
    assert {"serve.py", "first_start.py", "outbox.py", "embedded.py", "static_files.py"} <= names


@pytest.mark.parametrize(
    "code",
    [
        "import fcntl",
        "from os import fork",
        "import os\nos.execv('x', [])",
        "import signal\nsignal.SIGKILL",
        "import subprocess\nsubprocess.Popen([], start_new_session=True)",
        "open('/usr/bin/env')",
        "def late():\n    import pwd",
    ],
)
def test_the_reader_sees_what_one_system_alone_has(code):
    assert list(posix_only(ast.parse(code)))


@pytest.mark.parametrize("name", ["up", "test", "oldest_python.py", "__init__.py"])
def test_an_old_python_can_read_what_refuses_it(name):
    """These files are compiled before the version is looked at, so they use no newer syntax."""
    newer = (ast.JoinedStr, ast.AnnAssign, ast.NamedExpr, ast.AsyncFunctionDef, ast.Nonlocal)
    for node in ast.walk(ast.parse((PROJECT / "deploy" / name).read_text(encoding="utf-8"))):
        assert not isinstance(node, newer)
        if isinstance(node, ast.arguments):
            every = [*node.posonlyargs, *node.args, *node.kwonlyargs]
            assert not node.kwonlyargs
            assert not any(argument.annotation for argument in every)
        if isinstance(node, ast.FunctionDef):
            assert node.returns is None
        if isinstance(node, ast.ImportFrom):
            assert node.module != "__future__"
