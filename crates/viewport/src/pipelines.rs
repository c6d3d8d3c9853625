//! The passes' pipelines, each made when it is first needed.

use std::collections::BTreeMap;

use crate::Gpu;
use crate::layouts::Layouts;
use crate::target::{DEPTH, DRAWN, SHOWN};

const FRAME: &str = include_str!("../../../shaders/frame.wgsl");
const RING: &str = include_str!("../../../shaders/ring.wgsl");
const SURFACE: &str = include_str!("../../../shaders/surface.wgsl");
const LIGHT: &str = include_str!("../../../shaders/light.wgsl");
const PATTERN: &str = include_str!("../../../shaders/pattern.wgsl");
const COLOUR: &str = include_str!("../../../shaders/lib/colour.wgsl");
const BRDF: &str = include_str!("../../../shaders/lib/brdf.wgsl");
const ENERGY: &str = include_str!("../../../shaders/lib/energy.wgsl");
const IMAGE_LIGHT: &str = include_str!("../../../shaders/lib/image_light.wgsl");
const KEY_LIGHT: &str = include_str!("../../../shaders/lib/key_light.wgsl");
const SH: &str = include_str!("../../../shaders/lib/sh.wgsl");
const TONE: &str = include_str!("../../../shaders/lib/tone.wgsl");

/// A shader: the pieces that it is put together from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Shader {
    Model,
    Shadow,
    Line,
    Flat,
    Picture,
}

impl Shader {
    fn pieces(self) -> &'static [&'static str] {
        match self {
            Self::Model => &[
                FRAME,
                RING,
                SURFACE,
                LIGHT,
                PATTERN,
                COLOUR,
                BRDF,
                ENERGY,
                IMAGE_LIGHT,
                KEY_LIGHT,
                SH,
                TONE,
                include_str!("../../../shaders/model.wgsl"),
            ],
            Self::Shadow => &[FRAME, include_str!("../../../shaders/shadow.wgsl")],
            Self::Line => &[FRAME, COLOUR, include_str!("../../../shaders/line.wgsl")],
            Self::Flat => &[
                FRAME,
                RING,
                SURFACE,
                LIGHT,
                PATTERN,
                COLOUR,
                include_str!("../../../shaders/flat.wgsl"),
            ],
            Self::Picture => &[COLOUR, include_str!("../../../shaders/picture.wgsl")],
        }
    }

    pub(crate) fn source(self) -> String {
        self.pieces().concat()
    }
}

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Pass {
    Shadow,
    Lit,
    Channel,
    Squares,
    Islands,
    Wire,
    FlatTexture,
    FlatSquares,
    FlatGround,
    FlatIslands,
    FlatFootprint,
    FlatDisc,
    FlatWire,
    FlatOutline,
    Picture,
}

/// What a pass reads for each vertex.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Vertices {
    None,
    Mesh,
    Positions,
    Lines,
}

/// How a pass is drawn.
#[derive(Debug, Clone, Copy)]
struct Recipe {
    shader: Shader,
    vertex: &'static str,
    fragment: Option<&'static str>,
    vertices: Vertices,
    /// Compared and, unless blended, written.
    depth: bool,
    blended: bool,
}

impl Pass {
    fn recipe(self) -> Recipe {
        let model = |fragment| Recipe {
            shader: Shader::Model,
            vertex: "vertex",
            fragment: Some(fragment),
            vertices: Vertices::Mesh,
            depth: true,
            blended: false,
        };
        let line = |vertex, fragment, depth| Recipe {
            shader: Shader::Line,
            vertex,
            fragment: Some(fragment),
            vertices: Vertices::Lines,
            depth,
            blended: true,
        };
        let flat = |vertex, fragment, vertices, blended| Recipe {
            shader: Shader::Flat,
            vertex,
            fragment: Some(fragment),
            vertices,
            depth: false,
            blended,
        };
        match self {
            Self::Shadow => Recipe {
                shader: Shader::Shadow,
                vertex: "vertex",
                fragment: None,
                vertices: Vertices::Positions,
                depth: true,
                blended: false,
            },
            Self::Lit => model("lit"),
            Self::Channel => model("channel"),
            Self::Squares => model("squares"),
            Self::Islands => model("islands"),
            Self::Wire => line("on_model", "wire", true),
            Self::FlatTexture => flat("everywhere", "texture", Vertices::None, false),
            Self::FlatSquares => flat("everywhere", "squares", Vertices::None, false),
            Self::FlatGround => flat("everywhere", "ground", Vertices::None, false),
            Self::FlatIslands => flat("spread", "islands", Vertices::Mesh, true),
            Self::FlatFootprint => flat("spread", "footprint", Vertices::Mesh, true),
            Self::FlatDisc => flat("everywhere", "disc", Vertices::None, true),
            Self::FlatWire => line("on_texture", "wire", false),
            Self::FlatOutline => line("outline", "border", false),
            Self::Picture => Recipe {
                shader: Shader::Picture,
                vertex: "everywhere",
                fragment: Some("encoded"),
                vertices: Vertices::None,
                depth: false,
                blended: false,
            },
        }
    }
}

/// Pipelines by pass and samples a pixel.
#[derive(Debug)]
pub(crate) struct Pipelines {
    layouts: Layouts,
    taps: [f64; 2],
    modules: BTreeMap<Shader, wgpu::ShaderModule>,
    made: BTreeMap<(Pass, u32), wgpu::RenderPipeline>,
}

impl Pipelines {
    /// `taps`: how often the shadow map is read for a pixel, to find what is in the way and to soften.
    pub(crate) fn new(layouts: Layouts, taps: [f64; 2]) -> Self {
        Self { layouts, taps, modules: BTreeMap::new(), made: BTreeMap::new() }
    }

    /// Makes the pipelines of these passes, where they aren't made yet.
    pub(crate) fn prepare(&mut self, gpu: &Gpu, passes: &[Pass], samples: u32) {
        for &pass in passes {
            if !self.made.contains_key(&(pass, samples)) {
                let made = self.make(gpu, pass, samples);
                self.made.insert((pass, samples), made);
            }
        }
    }

    /// One that was prepared.
    pub(crate) fn get(&self, pass: Pass, samples: u32) -> Option<&wgpu::RenderPipeline> {
        self.made.get(&(pass, samples))
    }

    fn layout(&self, gpu: &Gpu, shader: Shader) -> wgpu::PipelineLayout {
        let Layouts { frame, light, material, lines, picture } = &self.layouts;
        let groups: &[Option<&wgpu::BindGroupLayout>] = match shader {
            Shader::Model | Shader::Flat => &[Some(frame), Some(light), Some(material)],
            Shader::Shadow => &[Some(frame)],
            Shader::Line => &[Some(frame), Some(lines)],
            Shader::Picture => &[Some(picture)],
        };
        gpu.device().create_pipeline_layout(&wgpu::PipelineLayoutDescriptor {
            label: None,
            bind_group_layouts: groups,
            immediate_size: 0,
        })
    }

    fn make(&mut self, gpu: &Gpu, pass: Pass, samples: u32) -> wgpu::RenderPipeline {
        let recipe = pass.recipe();
        let layout = self.layout(gpu, recipe.shader);
        let module = self.modules.entry(recipe.shader).or_insert_with(|| {
            gpu.device().create_shader_module(wgpu::ShaderModuleDescriptor {
                label: None,
                source: wgpu::ShaderSource::Wgsl(recipe.shader.source().into()),
            })
        });
        let constants = [("BLOCKER_TAPS", self.taps[0]), ("FILTER_TAPS", self.taps[1])];
        let has_taps = matches!(recipe.shader, Shader::Model | Shader::Flat);
        let options = wgpu::PipelineCompilationOptions {
            constants: if has_taps { &constants } else { &[] },
            ..wgpu::PipelineCompilationOptions::default()
        };
        let buffers = vertex_buffers(recipe.vertices);
        let targets = [Some(wgpu::ColorTargetState {
            format: if pass == Pass::Picture { SHOWN } else { DRAWN },
            blend: recipe.blended.then_some(OVER),
            write_mask: wgpu::ColorWrites::ALL,
        })];
        gpu.device().create_render_pipeline(&wgpu::RenderPipelineDescriptor {
            label: None,
            layout: Some(&layout),
            vertex: wgpu::VertexState {
                module,
                entry_point: Some(recipe.vertex),
                compilation_options: options.clone(),
                buffers: &buffers,
            },
            primitive: wgpu::PrimitiveState::default(),
            depth_stencil: depth_state(pass, recipe),
            multisample: wgpu::MultisampleState {
                count: samples,
                ..wgpu::MultisampleState::default()
            },
            fragment: recipe.fragment.map(|entry| wgpu::FragmentState {
                module,
                entry_point: Some(entry),
                compilation_options: options.clone(),
                targets: &targets,
            }),
            multiview_mask: None,
            cache: None,
        })
    }
}

/// What is drawn covers what was there; how much of the picture is lit stays.
const OVER: wgpu::BlendState = wgpu::BlendState {
    color: wgpu::BlendComponent {
        src_factor: wgpu::BlendFactor::SrcAlpha,
        dst_factor: wgpu::BlendFactor::OneMinusSrcAlpha,
        operation: wgpu::BlendOperation::Add,
    },
    alpha: wgpu::BlendComponent {
        src_factor: wgpu::BlendFactor::Zero,
        dst_factor: wgpu::BlendFactor::One,
        operation: wgpu::BlendOperation::Add,
    },
};

fn depth_state(pass: Pass, recipe: Recipe) -> Option<wgpu::DepthStencilState> {
    let compare = match (pass, recipe.depth) {
        (Pass::Picture, _) => return None,
        (Pass::Shadow, _) => wgpu::CompareFunction::Less,
        (_, true) => wgpu::CompareFunction::GreaterEqual,
        (_, false) => wgpu::CompareFunction::Always,
    };
    Some(wgpu::DepthStencilState {
        format: DEPTH,
        depth_write_enabled: Some(recipe.depth && !recipe.blended),
        depth_compare: Some(compare),
        stencil: wgpu::StencilState::default(),
        bias: wgpu::DepthBiasState::default(),
    })
}

const fn attribute(
    format: wgpu::VertexFormat,
    offset: u64,
    shader_location: u32,
) -> wgpu::VertexAttribute {
    wgpu::VertexAttribute { format, offset, shader_location }
}

/// As `mesh_buffers::Vertex` lies in memory.
const MESH: [wgpu::VertexAttribute; 4] = [
    attribute(wgpu::VertexFormat::Float32x3, 0, 0),
    attribute(wgpu::VertexFormat::Snorm16x2, 12, 1),
    attribute(wgpu::VertexFormat::Float32x2, 16, 2),
    attribute(wgpu::VertexFormat::Uint32x2, 24, 3),
];
const ENDS: [wgpu::VertexAttribute; 1] = [attribute(wgpu::VertexFormat::Uint32x2, 0, 0)];

fn vertex_buffers(vertices: Vertices) -> Vec<Option<wgpu::VertexBufferLayout<'static>>> {
    let (array_stride, step_mode, attributes): (_, _, &[_]) = match vertices {
        Vertices::None => return Vec::new(),
        Vertices::Mesh => (32, wgpu::VertexStepMode::Vertex, &MESH),
        Vertices::Positions => (32, wgpu::VertexStepMode::Vertex, &MESH[..1]),
        Vertices::Lines => (8, wgpu::VertexStepMode::Instance, &ENDS),
    };
    vec![Some(wgpu::VertexBufferLayout { array_stride, step_mode, attributes })]
}
