"""The rooms keep to themselves: a room includes only those before it, and only the rooms that
DEVELOPERS.md names include a library's headers."""
import glob
import os
import re
import unittest

from program import SOURCE, main

ROOMS = ["base", "scan", "colour", "sheet", "tone", "render", "draw", "print", "view", "command"]
LIBRARIES = {"tiffio.h": {"scan"}, "tiff.h": {"scan"}, "png.h": {"scan"}, "jpeglib.h": {"scan"},
             "exempi": {"scan"}, "xxhash.h": {"scan"}, "zlib.h": {"scan"}, "lcms2.h": {"colour"},
             "jansson.h": {"tone", "render", "print", "view", "command"},
             "ft2build.h": {"draw"}, "zimg.h": {"print"}, "microhttpd.h": {"view"}}


def includes():
    """(room, file, included) of every #include in src/."""
    for path in sorted(glob.glob(os.path.join(SOURCE, "src", "*", "*.[ch]"))):
        room = os.path.basename(os.path.dirname(path))
        with open(path, encoding="utf-8") as f:
            for name in re.findall(r'^#\s*include\s+[<"]([^>"]+)[>"]', f.read(), re.M):
                yield room, os.path.relpath(path, SOURCE), name


class Rooms(unittest.TestCase):
    def test_a_room_stands_on_those_before_it(self):
        seen = 0
        for room, path, name in includes():
            lower = name.split("/")[0]
            if "/" in name and lower in ROOMS:
                seen += 1
                self.assertLessEqual(ROOMS.index(lower), ROOMS.index(room), f"{path}: {name}")
        self.assertGreater(seen, 20)

    def test_libraries_stay_in_their_rooms(self):
        seen = set()
        for room, path, name in includes():
            for library, allowed in LIBRARIES.items():
                if name == library or name.startswith(library + "/"):
                    seen.add(library)
                    self.assertIn(room, allowed, f"{path}: {name}")
        self.assertGreaterEqual(len(seen), 6)

    def test_no_folder_holds_a_stray(self):
        rooms = {os.path.basename(p) for p in glob.glob(os.path.join(SOURCE, "src", "*"))}
        self.assertLessEqual(rooms, set(ROOMS))


if __name__ == "__main__":
    main()
