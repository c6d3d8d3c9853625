"""Times what our benches are compared with: Skia and OpenCV on one thread, at the same kind of content.

Usage: peers.py [--quick]

A figure is a line `@<TAB>name<TAB>value<TAB>unit`; the rest is for the reader. Of several ways to do the same
work the fastest counts, and the text says which it was. Each way is timed a few times and its best time taken.
With --quick three of the ten layers are laid: their cost is the same, and each still comes from memory.
"""

import sys
import time

import cv2
import numpy
import skia

EDGE = 4096
LAYERS = 10
LAYERS_WHEN_QUICK = 3
STRIP = 64
RADII = (32, 128, 512)
BLENDS = {
    "over": skia.BlendMode.kSrcOver,
    "multiply": skia.BlendMode.kMultiply,
    "overlay": skia.BlendMode.kOverlay,
    "soft-light": skia.BlendMode.kSoftLight,
}
FLOW = 40  # of 255, what one dab adds


def figure(name, value, unit):
    print(f"@\t{name}\t{value:.6g}\t{unit}", flush=True)


def best(seconds_each, work):
    """The shortest time of some runs: at least two, more while they fit into the seconds."""
    times, end = [], time.perf_counter() + seconds_each
    while len(times) < 2 or (time.perf_counter() < end and len(times) < 20):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def fastest(ways):
    """Name and time of the fastest of the ways."""
    return min(ways.items(), key=lambda way: way[1])


def random_layers(count):
    """Premultiplied BGRA: random texels whose coverage varies from nothing to full, no two layers alike."""
    block = numpy.random.default_rng(5).integers(0, 256, (EDGE // 4, EDGE // 4, 4), numpy.uint8)
    coverage = block[:, :, 3:].astype(numpy.uint16)
    block[:, :, :3] = (block[:, :, :3] * coverage + 127) // 255
    whole = numpy.tile(block, (4, 4, 1))
    return [numpy.roll(whole, (311 * layer, 173 * layer), (0, 1)) for layer in range(count)]


def rate(layers, took):
    return len(layers) * EDGE * EDGE / took / 1e6


def skia_layers(layers, seconds):
    canvas = skia_canvas(skia.kBGRA_8888_ColorType)
    images = [
        skia.Image.fromarray(layer, skia.kBGRA_8888_ColorType, skia.kPremul_AlphaType, copy=False) for layer in layers
    ]

    def laid(blend, rows):
        paint = skia.Paint(BlendMode=blend)
        for y in range(0, EDGE, rows):
            canvas.save()
            canvas.clipRect(skia.Rect.MakeXYWH(0, y, EDGE, rows))
            for image in images:
                canvas.drawImage(image, 0, 0, skia.SamplingOptions(), paint)
            canvas.restore()

    for name, blend in BLENDS.items():
        canvas.clear(skia.Color(120, 130, 140, 255))
        ways = {rows: best(seconds, lambda blend=blend, rows=rows: laid(blend, rows)) for rows in (EDGE, STRIP)}
        way, took = fastest(ways)
        print(f"Skia {name}: images drawn to a raster canvas of BGRA, {way} rows at once")
        figure(f"Skia {name}", rate(layers, took), "Mpx-layers/s")


def opencv_multiply(layers, seconds):
    """Multiply with coverage on an opaque backdrop d: d * (s + 1 - coverage) for a premultiplied source s."""
    backdrop = numpy.full((EDGE, EDGE, 4), 255, numpy.uint8)

    def multiplied(rows):
        bare = numpy.empty((rows, EDGE), numpy.uint8)
        factor = numpy.empty((rows, EDGE, 4), numpy.uint8)
        for y in range(0, EDGE, rows):
            below = backdrop[y : y + rows]
            for layer in layers:
                source = layer[y : y + rows]
                cv2.extractChannel(source, 3, bare)
                cv2.bitwise_not(bare, bare)
                cv2.cvtColor(bare, cv2.COLOR_GRAY2BGRA, factor)
                cv2.add(source, factor, factor)
                cv2.multiply(below, factor, below, 1 / 255)

    print("OpenCV multiply: 1 - coverage spread to four components, added to the source, then cv2.multiply by 1/255")
    figure("OpenCV multiply", rate(layers, best(seconds, lambda: multiplied(EDGE))), "Mpx-layers/s")
    print(f"the same, all layers on a strip of {STRIP} rows before the next, so that it stays in cache")
    figure("OpenCV multiply, in strips", rate(layers, best(seconds, lambda: multiplied(STRIP))), "Mpx-layers/s")


def skia_canvas(colour_type):
    return skia.Surface.MakeRaster(skia.ImageInfo.Make(EDGE, EDGE, colour_type, skia.kPremul_AlphaType)).getCanvas()


def stroke(radius, count):
    """Middles of dabs a quarter of the radius apart, in rows over the surface."""
    step = radius / 4
    along = int((EDGE - 2 * radius) / step)
    return [(radius + (i % along) * step, radius + (i // along * step) % (EDGE - 2 * radius)) for i in range(count)]


def falloff(radius):
    """A soft round tip: 8-bit coverage, (1 - (d / radius)^2)^2 at distance d."""
    at = (numpy.arange(2 * radius) + 0.5 - radius) / radius
    squared = numpy.minimum(at[:, None] ** 2 + at[None, :] ** 2, 1)
    return numpy.ascontiguousarray(numpy.round((1 - squared) ** 2 * 255).astype(numpy.uint8))


def recorded(draw):
    """The draws as one recording, so that Python has no part in the time."""
    recorder = skia.PictureRecorder()
    draw(recorder.beginRecording(skia.Rect(EDGE, EDGE)))
    return recorder.finishRecordingAsPicture()


def tip_images(radius):
    """The tip as a mask, and as a premultiplied image of one colour."""
    tip, edge = falloff(radius), 2 * radius
    info = skia.ImageInfo.Make(edge, edge, skia.kAlpha_8_ColorType, skia.kPremul_AlphaType)
    mask = skia.Image.MakeRasterData(info, skia.Data.MakeWithCopy(tip), edge)
    coloured = numpy.dstack([tip // 3, tip // 2, tip, tip]).copy()
    return mask, skia.Image.fromarray(coloured, skia.kBGRA_8888_ColorType, skia.kPremul_AlphaType)


def skia_dabs(radius, seconds):
    count = max(8, 2_000_000 // radius**2)
    middles = [(round(x), round(y)) for x, y in stroke(radius, count)]
    solid, clear = skia.Color(200, 120, 80, 255), skia.Color(200, 120, 80, 0)
    gradient = skia.GradientShader.MakeRadial((0, 0), radius, [solid, clear])

    def stamps(image, paint):
        def draw(canvas):
            for x, y in middles:
                canvas.drawImage(image, x - radius, y - radius, skia.SamplingOptions(), paint)

        return draw

    def gradients(canvas):
        paint = skia.Paint(Shader=gradient, Alpha=FLOW)
        for x, y in middles:
            canvas.save()
            canvas.translate(x, y)
            canvas.drawCircle(0, 0, radius, paint)
            canvas.restore()

    def timed(colour_type, draw):
        canvas = skia_canvas(colour_type)
        picture = recorded(draw)
        return best(seconds, lambda: canvas.drawPicture(picture))

    mask, coloured = tip_images(radius)
    masked = stamps(mask, skia.Paint(Color=skia.Color(200, 120, 80, FLOW)))
    told("stamp", radius, count, {
        "a mask in a colour onto BGRA": timed(skia.kBGRA_8888_ColorType, masked),
        "a coloured image onto BGRA": timed(skia.kBGRA_8888_ColorType, stamps(coloured, skia.Paint(Alpha=FLOW))),
        "a mask onto 8-bit coverage": timed(skia.kAlpha_8_ColorType, masked),
    })
    told("gradient", radius, count, {
        "onto BGRA": timed(skia.kBGRA_8888_ColorType, gradients),
        "onto 8-bit coverage": timed(skia.kAlpha_8_ColorType, gradients),
    })


def told(kind, radius, count, ways):
    way, took = fastest(ways)
    print(f"Skia {kind}, radius {radius}: {way}")
    figure(f"Skia {kind}, radius {radius}", count / took, "dabs/s")


def main(arguments):
    quick = "--quick" in arguments
    seconds, count = (0.1, LAYERS_WHEN_QUICK) if quick else (2.0, LAYERS)
    cv2.setNumThreads(1)
    print(f"Skia {skia.__version__} and OpenCV {cv2.__version__}, one thread, {count} layers of {EDGE} x {EDGE}")
    print("The work differs: they composite premultiplied 8-bit colour, layer by layer through memory; ours is")
    print("straight 16-bit, all layers in one pass over each tile. Their dabs are flat, 8-bit, and know no surface,")
    print("seam or ceiling.")
    layers = random_layers(count)
    skia_layers(layers, seconds)
    opencv_multiply(layers, seconds)
    for radius in RADII:
        skia_dabs(radius, seconds / 2)


if __name__ == "__main__":
    main(sys.argv[1:])
