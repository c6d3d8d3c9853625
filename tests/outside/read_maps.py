"""Reads every exported map with two libraries and by hand, and checks that all three agree on every value.

Usage: read_maps.py FOLDER DEPTH

The maps are those that the MTL in the folder names: one of each kind for each material. The libraries are OpenCV and imagecodecs. The third reading is plain zlib and the filters of PNG
(ISO/IEC 15948, 9). Colour chunks are checked as well: base colour says sRGB, scalars say a gamma of 1.
"""

import pathlib
import struct
import sys
import zlib

import cv2
import imagecodecs
import numpy

CHANNELS = {0: 1, 2: 3, 4: 2, 6: 4}
LINEAR = 100_000
KINDS = ("map_Kd", "map_Pr", "map_Pm")


def maps_of(library):
    """Kind and path of each map, and how many materials there are."""
    lines = [line.split(None, 1) for line in library.read_text().splitlines()]
    pairs = [line for line in lines if len(line) == 2]
    materials = sum(key == "newmtl" for key, _ in pairs)
    return [(key, library.parent / name.strip()) for key, name in pairs if key in KINDS], materials


def chunks(data):
    """Name and body of each chunk, its checksum held."""
    at = 8
    found = []
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        name, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        (checksum,) = struct.unpack_from(">I", data, at + 8 + length)
        if checksum != zlib.crc32(name + body):
            raise ValueError(f"checksum of {name.decode()} is wrong")
        found.append((name.decode(), body))
        at += 12 + length
    return found


def by_hand(found):
    """The values, as height x width x channels."""
    header = dict(found)["IHDR"]
    width, height, depth, kind, _, _, interlaced = struct.unpack(">IIBBBBB", header)
    if depth not in (8, 16) or kind not in CHANNELS or interlaced:
        raise ValueError("not a plain 8 or 16 bit PNG")
    channels = CHANNELS[kind]
    raw = zlib.decompress(b"".join(body for name, body in found if name == "IDAT"))
    pixel = channels * depth // 8
    rows = numpy.frombuffer(raw, numpy.uint8).reshape(height, 1 + width * pixel)
    done = unfiltered(rows[:, 0], rows[:, 1:].reshape(height, width, pixel))
    values = done.tobytes()
    return numpy.frombuffer(values, ">u2" if depth == 16 else "u1").reshape(height, width, channels)


def unfiltered(filters, coded):
    """Undoes the row filters along diagonals: all pixels of one depend only on the two before it."""
    height, width, pixel = coded.shape
    out = numpy.zeros((height + 1, width + 1, pixel), numpy.int16)
    for diagonal in range(height + width - 1):
        y = numpy.arange(max(0, diagonal - width + 1), min(height - 1, diagonal) + 1)
        x = diagonal - y
        left, above, corner = out[y + 1, x], out[y, x + 1], out[y, x]
        guess = left + above - corner
        off_left, off_above, off_corner = abs(guess - left), abs(guess - above), abs(guess - corner)
        nearest = numpy.where(off_above <= off_corner, above, corner)
        paeth = numpy.where((off_left <= off_above) & (off_left <= off_corner), left, nearest)
        options = (numpy.zeros_like(left), left, above, (left + above) >> 1, paeth)
        predicted = numpy.choose(filters[y][:, None], options)
        out[y + 1, x + 1] = (coded[y, x] + predicted) & 255
    return out[1:, 1:].astype(numpy.uint8)


def by_opencv(path):
    image = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    if image is None:
        raise ValueError("OpenCV cannot read it")
    image = image.reshape(*image.shape[:2], -1)
    return image[:, :, ::-1] if image.shape[2] == 3 else image


def by_imagecodecs(data):
    image = imagecodecs.png_decode(data)
    return image.reshape(*image.shape[:2], -1)


def check_colour(kind, found):
    has = dict(found)
    if kind == "map_Kd":
        if "sRGB" not in has:
            raise ValueError("base colour without an sRGB chunk")
        return
    if "sRGB" in has or "iCCP" in has:
        raise ValueError("a scalar map that claims a colour space")
    if "gAMA" not in has or struct.unpack(">I", has["gAMA"])[0] != LINEAR:
        raise ValueError(f"a scalar map without gAMA {LINEAR}")


def check(kind, path, depth):
    data = path.read_bytes()
    found = chunks(data)
    check_colour(kind, found)
    ours = by_hand(found)
    if ours.dtype.itemsize * 8 != depth:
        raise ValueError(f"{ours.dtype.itemsize * 8} bits a channel where {depth} were asked for")
    for library, theirs in (("OpenCV", by_opencv(path)), ("imagecodecs", by_imagecodecs(data))):
        if theirs.shape != ours.shape or theirs.dtype.itemsize != ours.dtype.itemsize:
            raise ValueError(f"{library} reads {theirs.shape} {theirs.dtype}, the file holds {ours.shape}")
        wrong = numpy.argwhere(theirs != ours)
        if len(wrong):
            y, x, channel = wrong[0]
            values = theirs[y, x, channel], ours[y, x, channel]
            raise ValueError(f"{library} reads {values[0]} at {x}, {y}, channel {channel}, the file holds {values[1]}")
    print(f"{path}: {ours.shape[1]} x {ours.shape[0]} x {ours.shape[2]}, {depth} bits, all agree")


def main(folder, depth):
    maps, materials = [], 0
    for library in pathlib.Path(folder).glob("*.mtl"):
        more, count = maps_of(library)
        maps, materials = maps + more, materials + count
    failures = 0
    for kind, path in maps:
        try:
            check(kind, path, int(depth))
        except (OSError, ValueError, KeyError, struct.error, zlib.error, imagecodecs.PngError) as problem:
            print(f"{path}: {problem}", file=sys.stderr)
            failures += 1
    if not materials or len(maps) != materials * len(KINDS):
        print(f"{folder}: {materials} materials but {len(maps)} maps", file=sys.stderr)
        failures += 1
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
