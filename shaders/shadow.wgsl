// Depth as the key light sees it. Needs frame.

@vertex
fn vertex(@location(0) position: vec3f) -> @builtin(position) vec4f {
    return frame.light_from_model * vec4f(position, 1.0);
}
