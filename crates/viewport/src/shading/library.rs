/// One file of `shaders/lib`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShaderPiece {
    /// Its file name without the ending.
    pub name: &'static str,
    /// Its text.
    pub source: &'static str,
}

macro_rules! piece {
    ($name:literal) => {
        ShaderPiece {
            name: $name,
            source: include_str!(concat!("../../../../shaders/lib/", $name, ".wgsl")),
        }
    };
}

/// `shaders/lib` in the order in which its pieces need each other. Functions only: a shader puts the pieces that
/// it needs before its own text.
pub const SHADER_LIBRARY: [ShaderPiece; 7] = [
    piece!("colour"),
    piece!("brdf"),
    piece!("energy"),
    piece!("image_light"),
    piece!("key_light"),
    piece!("sh"),
    piece!("tone"),
];
