//! What light needs on the adapter: the key light's shadow map, the environment, the table of albedos, and
//! samplers.

use wgpu::util::{DeviceExt as _, TextureDataOrder};

use crate::Gpu;
use crate::digits::{DIGITS_HEIGHT, DIGITS_WIDTH, digits};
use crate::environment::Prefiltered;
use crate::layouts::Layouts;
use crate::target::DEPTH;

/// Edge of the shadow map where a graphics card draws, and where the processor does.
const SHADOW_EDGE: u32 = 2048;
const SHADOW_EDGE_ON_CPU: u32 = 1024;

/// Samples along the longer axis of a pixel's footprint, where a graphics card draws. Software drivers blur what is
/// magnified by more than one.
const ANISOTROPY: u16 = 16;

/// Textures and samplers of `shaders/light.wgsl`.
#[derive(Debug)]
pub(crate) struct LightTextures {
    layout: wgpu::BindGroupLayout,
    pub(crate) shadow_edge: u32,
    pub(crate) shadow: wgpu::TextureView,
    shadow_sampler: wgpu::Sampler,
    environment: wgpu::TextureView,
    pub(crate) environment_levels: u32,
    pub(crate) sh: [[f32; 4]; 9],
    dfg: wgpu::TextureView,
    linear_clamp: wgpu::Sampler,
    surface_sampler: wgpu::Sampler,
    even_sampler: wgpu::Sampler,
    digits: wgpu::TextureView,
    pub(crate) group: wgpu::BindGroup,
}

impl LightTextures {
    /// `dfg`: the table of albedos, width, height and bits of half floats.
    pub(crate) fn new(
        gpu: &Gpu,
        layouts: &Layouts,
        light: &Prefiltered,
        (dfg_size, dfg): ([u32; 2], &[[u16; 4]]),
    ) -> Self {
        let shadow_edge = if gpu.is_cpu() { SHADOW_EDGE_ON_CPU } else { SHADOW_EDGE };
        let layout = layouts.light.clone();
        let shadow = shadow_map(gpu, shadow_edge);
        let shadow_sampler = shadow_sampler(gpu);
        let environment = environment(gpu, light);
        let dfg = table(gpu, dfg_size, dfg);
        let linear_clamp = sampler(gpu, wgpu::AddressMode::ClampToEdge, 1);
        // Repeated, as glTF does unless told otherwise.
        let anisotropy = if gpu.is_cpu() { 1 } else { ANISOTROPY };
        let surface_sampler = sampler(gpu, wgpu::AddressMode::Repeat, anisotropy);
        let even_sampler = sampler(gpu, wgpu::AddressMode::Repeat, 1);
        let digits = digits_texture(gpu);
        let views = [&shadow, &environment, &dfg, &digits];
        let samplers = [&shadow_sampler, &linear_clamp, &surface_sampler, &even_sampler];
        let group = bound(gpu, &layout, views, samplers);
        Self {
            layout,
            shadow_edge,
            shadow,
            shadow_sampler,
            environment,
            environment_levels: light.levels.len() as u32,
            sh: light.irradiance.for_uniform(),
            dfg,
            linear_clamp,
            surface_sampler,
            even_sampler,
            digits,
            group,
        }
    }

    pub(crate) fn set_environment(&mut self, gpu: &Gpu, light: &Prefiltered) {
        self.environment = environment(gpu, light);
        self.environment_levels = light.levels.len() as u32;
        self.sh = light.irradiance.for_uniform();
        let views = [&self.shadow, &self.environment, &self.dfg, &self.digits];
        let samplers =
            [&self.shadow_sampler, &self.linear_clamp, &self.surface_sampler, &self.even_sampler];
        self.group = bound(gpu, &self.layout, views, samplers);
    }
}

fn bound(
    gpu: &Gpu,
    layout: &wgpu::BindGroupLayout,
    [shadow, environment, dfg, digits]: [&wgpu::TextureView; 4],
    [shadow_sampler, linear_clamp, surface_sampler, even_sampler]: [&wgpu::Sampler; 4],
) -> wgpu::BindGroup {
    let view = wgpu::BindingResource::TextureView;
    let sampler = wgpu::BindingResource::Sampler;
    let resources = [
        view(shadow),
        sampler(shadow_sampler),
        view(environment),
        view(dfg),
        sampler(linear_clamp),
        sampler(surface_sampler),
        view(digits),
        sampler(even_sampler),
        view(shadow),
    ];
    let entries: Vec<_> = (0..)
        .zip(resources)
        .map(|(binding, resource)| wgpu::BindGroupEntry { binding, resource })
        .collect();
    gpu.device().create_bind_group(&wgpu::BindGroupDescriptor {
        label: Some("light"),
        layout,
        entries: &entries,
    })
}

fn shadow_map(gpu: &Gpu, edge: u32) -> wgpu::TextureView {
    let texture = gpu.device().create_texture(&wgpu::TextureDescriptor {
        label: Some("shadow"),
        size: wgpu::Extent3d { width: edge, height: edge, depth_or_array_layers: 1 },
        mip_level_count: 1,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        format: DEPTH,
        usage: wgpu::TextureUsages::RENDER_ATTACHMENT | wgpu::TextureUsages::TEXTURE_BINDING,
        view_formats: &[],
    });
    texture.create_view(&wgpu::TextureViewDescriptor::default())
}

fn shadow_sampler(gpu: &Gpu) -> wgpu::Sampler {
    gpu.device().create_sampler(&wgpu::SamplerDescriptor {
        label: Some("shadow"),
        mag_filter: wgpu::FilterMode::Linear,
        min_filter: wgpu::FilterMode::Linear,
        compare: Some(wgpu::CompareFunction::LessEqual),
        ..wgpu::SamplerDescriptor::default()
    })
}

fn sampler(gpu: &Gpu, address: wgpu::AddressMode, anisotropy_clamp: u16) -> wgpu::Sampler {
    gpu.device().create_sampler(&wgpu::SamplerDescriptor {
        label: None,
        address_mode_u: address,
        address_mode_v: address,
        address_mode_w: address,
        mag_filter: wgpu::FilterMode::Linear,
        min_filter: wgpu::FilterMode::Linear,
        mipmap_filter: wgpu::MipmapFilterMode::Linear,
        anisotropy_clamp,
        ..wgpu::SamplerDescriptor::default()
    })
}

/// Faces come level by level; the texture wants them face by face, each with its levels.
fn environment(gpu: &Gpu, light: &Prefiltered) -> wgpu::TextureView {
    let edge = light.levels.first().map_or(1, |level| (level.len() / 6).isqrt() as u32);
    let bytes: Vec<u8> = (0..6)
        .flat_map(|face| {
            light.levels.iter().flat_map(move |level| {
                let texels = level.len() / 6;
                bytemuck::cast_slice::<_, u8>(&level[face * texels..(face + 1) * texels])
            })
        })
        .copied()
        .collect();
    let texture = gpu.device().create_texture_with_data(
        gpu.queue(),
        &wgpu::TextureDescriptor {
            label: Some("environment"),
            size: wgpu::Extent3d { width: edge, height: edge, depth_or_array_layers: 6 },
            mip_level_count: light.levels.len() as u32,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: wgpu::TextureFormat::Rgba16Float,
            usage: wgpu::TextureUsages::TEXTURE_BINDING,
            view_formats: &[],
        },
        TextureDataOrder::LayerMajor,
        &bytes,
    );
    texture.create_view(&wgpu::TextureViewDescriptor {
        dimension: Some(wgpu::TextureViewDimension::Cube),
        ..wgpu::TextureViewDescriptor::default()
    })
}

fn plain(
    gpu: &Gpu,
    (width, height): (u32, u32),
    levels: u32,
    format: wgpu::TextureFormat,
    bytes: &[u8],
) -> wgpu::TextureView {
    let texture = gpu.device().create_texture_with_data(
        gpu.queue(),
        &wgpu::TextureDescriptor {
            label: None,
            size: wgpu::Extent3d { width, height, depth_or_array_layers: 1 },
            mip_level_count: levels,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format,
            usage: wgpu::TextureUsages::TEXTURE_BINDING,
            view_formats: &[],
        },
        TextureDataOrder::LayerMajor,
        bytes,
    );
    texture.create_view(&wgpu::TextureViewDescriptor::default())
}

fn table(gpu: &Gpu, [width, height]: [u32; 2], texels: &[[u16; 4]]) -> wgpu::TextureView {
    let format = wgpu::TextureFormat::Rgba16Float;
    plain(gpu, (width, height), 1, format, bytemuck::cast_slice(texels))
}

fn digits_texture(gpu: &Gpu) -> wgpu::TextureView {
    let levels = digits();
    let size = (DIGITS_WIDTH, DIGITS_HEIGHT);
    plain(gpu, size, levels.len() as u32, wgpu::TextureFormat::R8Unorm, &levels.concat())
}
