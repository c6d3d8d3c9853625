"""Drives the window as a person does: opens a model, paints on it, exports by keyboard, quits; then holds the maps
from before against those from after.

Usage: window.py PROGRAM MODEL FOLDER

MODEL is an OBJ file; it is copied with its MTL into FOLDER, where everything else goes too. Done once at a scale of 1
and once at 2. Needs Xvfb, xdotool and ImageMagick's import; nothing is waited for by a fixed time, everything is
looked for until it is there.
"""

import os
import pathlib
import shutil
import subprocess
import sys
import time

import cv2
import numpy

PATIENCE_SECS = 180
PREFERENCES = 'texture_edge = 512\nknows_first_steps = true\ntheme = "dark"\n'
# The theme's grey around the model, as the program paints it.
SURROUND = 0x46


def until(what, look):
    """The first value of `look` that is not None."""
    end = time.monotonic() + PATIENCE_SECS
    while time.monotonic() < end:
        found = look()
        if found is not None:
            return found
        time.sleep(0.05)
    raise SystemExit(f"window.py: {what} did not come in {PATIENCE_SECS} s")


class Screen:
    """A display of its own with nothing on it but the program."""

    def __init__(self, width, height):
        reading, writing = os.pipe()
        size = f"{width}x{height}x24"
        # Without -noreset it begins anew when its last client goes, and turns away who comes just then.
        arguments = ["Xvfb", "-displayfd", str(writing), "-screen", "0", size, "-nolisten", "tcp", "-noreset"]
        self.server = subprocess.Popen(arguments, pass_fds=[writing], stderr=subprocess.DEVNULL)
        os.close(writing)
        with os.fdopen(reading) as told:
            self.name = ":" + told.readline().strip()

    def close(self):
        self.server.terminate()
        self.server.wait()

    def run(self, *arguments):
        environment = {**os.environ, "DISPLAY": self.name}
        done = subprocess.run(arguments, env=environment, capture_output=True, check=False)
        return done.stdout if done.returncode == 0 else None

    def window(self, title):
        """The number of a window with this title that is shown."""
        found = self.run("xdotool", "search", "--onlyvisible", "--name", title)
        return found.decode().split()[0] if found and found.split() else None

    def picture(self):
        shown = self.run("import", "-window", "root", "png:-")
        return cv2.imdecode(numpy.frombuffer(shown, numpy.uint8), cv2.IMREAD_COLOR) if shown else None

    def key(self, keys):
        self.run("xdotool", "key", "--clearmodifiers", keys)

    def seen(self, *arguments):
        """Does something with the pointer and waits until it is to be seen."""
        before = self.picture()

        def changed():
            now = self.picture()
            return True if now is not None and not numpy.array_equal(now, before) else None

        self.run("xdotool", *map(str, arguments))
        until("what the pointer does", changed)

    def drag(self, begin, end):
        """As a hand does it, which sees where the pointer is before it goes on."""
        self.seen("mousemove", *begin)
        self.run("xdotool", "mousedown", "1")
        for step in range(1, 7):
            self.seen("mousemove", *[round(a + (b - a) * step / 6) for a, b in zip(begin, end)])
        self.run("xdotool", "mouseup", "1")


def bell_flank(picture):
    """A place on the bell, in pixels: it is what reaches farther left than the board behind it, in the surround's
    grey. None before the model is painted."""
    if picture is None:
        return None
    height, width = picture.shape[:2]
    left, right, top, bottom = width // 5, width * 2 // 5, height * 22 // 100, height * 56 // 100
    view = picture[top:bottom, left:right].astype(int)
    shown = abs(view - SURROUND).max(axis=2) > 1
    if not 0.05 < shown.mean() < 0.95:
        return None
    board = numpy.nonzero(shown[: shown.shape[0] // 3].any(axis=0))[0]
    if board.size == 0 or board[0] < 8:
        return None
    rows, columns = numpy.nonzero(shown[:, : board[0] - 2])
    if rows.size < 100:
        return None
    return left + int(numpy.median(columns)), top + int(numpy.median(rows))


def steadily(screen, look):
    """What `look` gives, once two pictures in a row give the same."""
    before, after = look(screen.picture()), look(screen.picture())
    return after if before == after else None


def export(screen, window, folder, to):
    """Exports by keyboard, and moves what came to `to`."""
    screen.run("xdotool", "windowfocus", window)
    screen.key("ctrl+e")
    # All files appear at once; the GLB is named last.
    until("the export", lambda: True if list(folder.glob("*.glb")) else None)
    folder.rename(to)
    return {path.name: path for path in to.glob("*.png")}


def quit_by_keyboard(screen, running):
    """The program's exit code once it is gone. Asked again, as the files may be there before the window knows: until
    then it asks whether to lose what was painted."""
    screen.key("ctrl+q")
    return running.poll()


def compare(before, after):
    """One material was painted, in some places; nothing else changed."""
    if not before or before.keys() != after.keys():
        raise SystemExit(f"window.py: maps differ: {sorted(before)} and {sorted(after)}")
    changed = {}
    for name in before:
        a, b = (cv2.imread(str(path[name]), cv2.IMREAD_UNCHANGED) for path in (before, after))
        differs = (a != b).reshape(a.shape[0], a.shape[1], -1).any(axis=2)
        if differs.any():
            changed[name] = differs
    materials = {name.split("_")[1] for name in changed}
    if len(materials) != 1:
        raise SystemExit(f"window.py: painted materials: {sorted(materials)}, not one")
    for name, differs in changed.items():
        share = differs.mean()
        # Where no island lies, a map is filled from around: so more changes than was painted.
        if not 1e-4 < share < 0.6:
            raise SystemExit(f"window.py: {name}: {share:.2%} of it changed, not a stroke's part")
        print(f"{name}: {differs.sum()} texels painted, {share:.2%}")


def round_of(program, model, folder, scale):
    folder.mkdir(parents=True)
    for file in (model, model.with_suffix(".mtl")):
        shutil.copy(file, folder / file.name)
    settings = folder / "settings" / "scumble"
    settings.mkdir(parents=True)
    (settings / "preferences.toml").write_text(PREFERENCES)
    # As large as the window opens.
    screen = Screen(1440 * scale, 900 * scale)
    environment = {
        **os.environ,
        "DISPLAY": screen.name,
        "HOME": str(folder),
        "XDG_CONFIG_HOME": str(folder / "settings"),
        "WINIT_X11_SCALE_FACTOR": str(scale),
    }
    environment.pop("WAYLAND_DISPLAY", None)
    began = time.monotonic()
    running = subprocess.Popen([program, folder / model.name], env=environment)
    try:
        window = until("the window", lambda: screen.window(model.stem))
        until("the model", lambda: bell_flank(screen.picture()))
        print(f"scale {scale}: the model was seen {time.monotonic() - began:.2f} s after the start")
        before = export(screen, window, folder / "export", folder / "before")
        middle = until("the bell", lambda: steadily(screen, bell_flank))
        reach = 24 * scale
        x, y = middle
        # From its lip over its body.
        screen.drag((x, y), (x + 3 * reach, y - reach))
        after = export(screen, window, folder / "export", folder / "after")
        code = until("the end", lambda: quit_by_keyboard(screen, running))
        if code != 0:
            raise SystemExit(f"window.py: the program ended with {code}")
        compare(before, after)
        print(f"scale {scale}: painted at {middle}")
    except SystemExit:
        picture = screen.picture()
        if picture is not None:
            cv2.imwrite(str(folder / "failed.png"), picture)
        raise
    finally:
        if running.poll() is None:
            running.kill()
        screen.close()


def main():
    program, model, folder = map(pathlib.Path, sys.argv[1:])
    if folder.exists():
        shutil.rmtree(folder)
    for scale in (1, 2):
        round_of(program.resolve(), model, folder.resolve() / f"scale-{scale}", scale)


main()
