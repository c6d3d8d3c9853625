//! Which resources shaders find where. `shaders/*.wgsl` says the same.

/// The layouts of all groups. Any two of these are interchangeable.
#[derive(Debug, Clone)]
pub(crate) struct Layouts {
    /// Group 0 of every pass of a scene: `frame.wgsl`.
    pub(crate) frame: wgpu::BindGroupLayout,
    /// Group 1 of what is shaded: `light.wgsl`.
    pub(crate) light: wgpu::BindGroupLayout,
    /// Group 2 of what is shaded: `surface.wgsl`.
    pub(crate) material: wgpu::BindGroupLayout,
    /// Group 1 of lines: `line.wgsl`.
    pub(crate) lines: wgpu::BindGroupLayout,
    /// Group 0 of `picture.wgsl`.
    pub(crate) picture: wgpu::BindGroupLayout,
}

impl Layouts {
    pub(crate) fn new(device: &wgpu::Device) -> Self {
        let layout = |label, kinds: &[(wgpu::ShaderStages, wgpu::BindingType)]| {
            let entries: Vec<_> = (0..)
                .zip(kinds)
                .map(|(binding, &(visibility, ty))| wgpu::BindGroupLayoutEntry {
                    binding,
                    visibility,
                    ty,
                    count: None,
                })
                .collect();
            device.create_bind_group_layout(&wgpu::BindGroupLayoutDescriptor {
                label: Some(label),
                entries: &entries,
            })
        };
        let (vertex, fragment) = (wgpu::ShaderStages::VERTEX, wgpu::ShaderStages::FRAGMENT);
        let sampler = |kind| (fragment, wgpu::BindingType::Sampler(kind));
        Self {
            frame: layout("frame", &[(vertex | fragment, uniform())]),
            light: layout(
                "light",
                &[
                    (fragment, texture(wgpu::TextureSampleType::Depth)),
                    sampler(wgpu::SamplerBindingType::Comparison),
                    (fragment, cube()),
                    (fragment, texture(FILTERED)),
                    sampler(wgpu::SamplerBindingType::Filtering),
                    sampler(wgpu::SamplerBindingType::Filtering),
                    (fragment, texture(FILTERED)),
                    sampler(wgpu::SamplerBindingType::Filtering),
                    (fragment, texture(EXACT)),
                ],
            ),
            material: layout(
                "material",
                &[
                    (fragment, texture(FILTERED)),
                    (fragment, texture(FILTERED)),
                    (fragment, texture(FILTERED)),
                    (fragment, texture(FILTERED)),
                    (fragment, uniform()),
                    (fragment, texture(FILTERED)),
                ],
            ),
            lines: layout("lines", &[(vertex, storage())]),
            picture: layout("picture", &[(fragment, texture(EXACT))]),
        }
    }
}

const FILTERED: wgpu::TextureSampleType = wgpu::TextureSampleType::Float { filterable: true };
const EXACT: wgpu::TextureSampleType = wgpu::TextureSampleType::Float { filterable: false };

fn texture(sample_type: wgpu::TextureSampleType) -> wgpu::BindingType {
    wgpu::BindingType::Texture {
        sample_type,
        view_dimension: wgpu::TextureViewDimension::D2,
        multisampled: false,
    }
}

fn cube() -> wgpu::BindingType {
    wgpu::BindingType::Texture {
        sample_type: FILTERED,
        view_dimension: wgpu::TextureViewDimension::Cube,
        multisampled: false,
    }
}

fn uniform() -> wgpu::BindingType {
    buffer(wgpu::BufferBindingType::Uniform)
}

fn storage() -> wgpu::BindingType {
    buffer(wgpu::BufferBindingType::Storage { read_only: true })
}

fn buffer(ty: wgpu::BufferBindingType) -> wgpu::BindingType {
    wgpu::BindingType::Buffer { ty, has_dynamic_offset: false, min_binding_size: None }
}
