// What is drawn on the surface to judge its layout: numbered squares, islands. Needs frame, light, lib/colour.

const SQUARE_TEXELS: f32 = 64.0;
// Of the texture with the digits 0 to 9 side by side.
const DIGITS: f32 = 10.0;

// How much of a pixel lies in odd squares: integral of a checkerboard over a box, in squares.
fn odd_share(at: vec2f, width: vec2f) -> f32 {
    let w = max(width, vec2f(1e-4));
    let a = at - 0.5 * w;
    let b = at + 0.5 * w;
    let ia = floor(a * 0.5) + saturate((fract(a * 0.5) - 0.5) * 2.0);
    let ib = floor(b * 0.5) + saturate((fract(b * 0.5) - 0.5) * 2.0);
    let share = saturate((ib - ia) / w);
    return share.x + share.y - 2.0 * share.x * share.y;
}

// Coverage by a number of up to three digits, centred on `middle` of a square.
fn number(value: u32, inside: vec2f, middle: vec2f, dx: vec2f, dy: vec2f) -> f32 {
    let size = vec2f(0.16, 0.26);
    let count = select(select(1.0, 2.0, value >= 10u), 3.0, value >= 100u);
    let at = (inside - middle) / size + vec2f(0.5 * count, 0.5);
    let place = floor(at.x);
    let is_in = place >= 0.0 && place < count && at.y >= 0.0 && at.y < 1.0;
    var rest = value;
    for (var drop = count - 1.0; drop > place; drop -= 1.0) {
        rest = rest / 10u;
    }
    let uv = vec2f((f32(rest % 10u) + at.x - place) / DIGITS, at.y);
    let scale = vec2f(1.0 / (size.x * DIGITS), 1.0 / size.y);
    let ink = textureSampleGrad(digits, linear_clamp, uv, dx * scale, dy * scale).r;
    return select(0.0, ink, is_in);
}

// Encoded colour of the squares; `dx`, `dy`: UV from pixel to pixel.
fn checker(uv: vec2f, edge: f32, dx: vec2f, dy: vec2f) -> vec3f {
    let squares = max(edge / SQUARE_TEXELS, 1.0);
    let at = uv * squares;
    let share = odd_share(at, (abs(dx) + abs(dy)) * squares);
    let cell = vec2u(clamp(floor(at), vec2f(0.0), vec2f(squares - 1.0)));
    let tint = vec3f(0.02, -0.01, -0.03) * (uv.x - 0.5) * 2.0 + vec3f(-0.03, 0.0, 0.03) * (uv.y - 0.5) * 2.0;
    let ground = mix(vec3f(0.74), vec3f(0.46), share) + tint;
    let across = number(cell.x, fract(at), vec2f(0.5, 0.34), dx * squares, dy * squares);
    let down = number(cell.y, fract(at), vec2f(0.5, 0.66), dx * squares, dy * squares);
    let is_odd = ((cell.x + cell.y) & 1u) == 1u;
    return mix(ground, select(vec3f(0.22), vec3f(0.9), is_odd), max(across, down) * 0.9);
}

// Encoded colour of an island: hues far apart for numbers that follow each other; grey without UVs.
fn island_colour(island: u32) -> vec3f {
    if island == 0xffffffffu {
        return vec3f(0.5);
    }
    let hue = fract(f32(island % 8192u) * 0.61803399 + 0.09);
    let light = 0.62 + 0.12 * fract(f32(island % 8192u) * 0.7548777);
    let wheel = 0.5 + 0.5 * cos(6.2831853 * (hue + vec3f(0.0, 0.3333, 0.6667)));
    return mix(vec3f(light), vec3f(light) * (0.45 + 0.95 * wheel), 0.6);
}
