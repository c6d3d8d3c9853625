//! Draws pictures: a scene and a view become texels of a target.

use glam::{DVec3, Vec3};
use surface::MaterialSlot;

use crate::environment::{Prefiltered, cube_direction};
use crate::frame::{FRAME_FLOATS, Frame, Surroundings};
use crate::layouts::Layouts;
use crate::light_textures::LightTextures;
use crate::pipelines::{Pass, Pipelines};
use crate::scene::SceneMesh;
use crate::shading::{DFG_SIZE, DfgTable, ShIrradiance};
use crate::target::Canvas;
use crate::{FlatPicture, Footprint, Gpu, KeyLight, ModelView, Scene, Shown, Target};

/// How often the shadow map is read for a pixel, to find what is in the way and to soften: on a graphics
/// card, and where the processor draws.
const TAPS: [f64; 2] = [16.0, 24.0];
const TAPS_ON_CPU: [f64; 2] = [8.0, 14.0];

/// What the shadow map shows.
#[derive(Debug, Clone, PartialEq)]
struct Shadowed {
    mesh: u64,
    key: KeyLight,
    hidden_parts: Vec<bool>,
}

/// Draws any scene into any target of one adapter. It draws when it is asked to, and only then.
#[derive(Debug)]
pub struct Renderer {
    pipelines: Pipelines,
    light: LightTextures,
    frame: wgpu::Buffer,
    frame_group: wgpu::BindGroup,
    shadowed: Option<Shadowed>,
}

impl Renderer {
    /// With light that is alike from everywhere, until it is given another environment.
    pub fn new(gpu: &Gpu) -> Self {
        let layouts = Layouts::new(gpu.device());
        let frame = gpu.device().create_buffer(&wgpu::BufferDescriptor {
            label: Some("frame"),
            size: (FRAME_FLOATS * size_of::<f32>()) as u64,
            usage: wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        let frame_group = gpu.device().create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some("frame"),
            layout: &layouts.frame,
            entries: &[wgpu::BindGroupEntry { binding: 0, resource: frame.as_entire_binding() }],
        });
        let [width, height] = DFG_SIZE.map(|edge| edge as u32);
        let dfg = DfgTable::new().texture();
        let light = LightTextures::new(gpu, &layouts, &even_light(), ([width, height], &dfg));
        let taps = if gpu.is_cpu() { TAPS_ON_CPU } else { TAPS };
        let pipelines = Pipelines::new(layouts, taps);
        Self { pipelines, light, frame, frame_group, shadowed: None }
    }

    /// Lights everything by another environment. Prefiltering one takes a while: do it in a background job.
    pub fn set_environment(&mut self, gpu: &Gpu, environment: &Prefiltered) {
        self.light.set_environment(gpu, environment);
    }

    /// Makes what the first picture of each kind would otherwise wait for.
    pub fn prepare(&mut self, gpu: &Gpu) {
        let samples = gpu.samples();
        self.pipelines.prepare(gpu, &[Pass::Shadow, Pass::Picture], 1);
        let passes = [Pass::Lit, Pass::Channel, Pass::FlatTexture, Pass::FlatOutline];
        self.pipelines.prepare(gpu, &passes, samples);
    }

    /// Draws the model. A target without size, and a scene without a mesh, draw nothing but the background.
    pub fn draw_model(&mut self, gpu: &Gpu, scene: &Scene, view: &ModelView, target: &mut Target) {
        let Some(canvas) = target.canvas() else { return };
        let samples = target.samples();
        let (origin, radius) = scene.bounds().unwrap_or((DVec3::ZERO, 1.0));
        let frame = Frame::of_model(view, &self.surroundings(canvas, origin, radius));
        self.write(gpu, &frame);
        let pass = match view.shown {
            Shown::Lit => Pass::Lit,
            Shown::Colour | Shown::Roughness | Shown::Metalness | Shown::Mask => Pass::Channel,
            Shown::Checker => Pass::Squares,
            Shown::Islands => Pass::Islands,
        };
        self.pipelines.prepare(gpu, &[Pass::Shadow, Pass::Picture], 1);
        self.pipelines.prepare(gpu, &[pass, Pass::Wire], samples);
        let mut encoder =
            gpu.device().create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        if let Some(mesh) = scene.mesh()
            && view.shown == Shown::Lit
            && view.lighting.key.strength > 0.0
        {
            self.draw_shadow(&mut encoder, mesh, view);
        }
        let mut drawing = begin(&mut encoder, canvas, background(&frame));
        drawing.set_bind_group(0, &self.frame_group, &[]);
        if let Some(mesh) = scene.mesh() {
            self.draw_surface(&mut drawing, scene, mesh, (pass, samples), &|_, part| {
                is_shown(&view.hidden_parts, part)
            });
            if view.wire {
                self.draw_lines(&mut drawing, mesh, (Pass::Wire, samples), &|_, part| {
                    is_shown(&view.hidden_parts, part)
                });
            }
        }
        drop(drawing);
        self.encode(&mut encoder, canvas);
        gpu.queue().submit([encoder.finish()]);
    }

    /// Draws one material's texture, laid flat.
    pub fn draw_flat(
        &mut self,
        gpu: &Gpu,
        scene: &Scene,
        picture: &FlatPicture,
        target: &mut Target,
    ) {
        let Some(canvas) = target.canvas() else { return };
        let samples = target.samples();
        let (origin, radius) = scene.bounds().unwrap_or((DVec3::ZERO, 1.0));
        let frame = Frame::of_texture(picture, &self.surroundings(canvas, origin, radius));
        self.write(gpu, &frame);
        let ground = match picture.shown {
            Shown::Islands => Pass::FlatGround,
            Shown::Checker => Pass::FlatSquares,
            _ => Pass::FlatTexture,
        };
        let over = flat_passes(picture);
        self.pipelines.prepare(gpu, &[Pass::Picture], 1);
        self.pipelines.prepare(gpu, &[ground], samples);
        self.pipelines.prepare(gpu, &over, samples);
        let mut encoder =
            gpu.device().create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let mut drawing = begin(&mut encoder, canvas, background(&frame));
        drawing.set_bind_group(0, &self.frame_group, &[]);
        self.draw_everywhere(&mut drawing, scene, picture.material, (ground, samples));
        let of_it = |material: MaterialSlot, _: usize| material == picture.material;
        for pass in over {
            match (pass, scene.mesh()) {
                (Pass::FlatDisc, _) => {
                    self.draw_everywhere(&mut drawing, scene, picture.material, (pass, samples));
                }
                (Pass::FlatWire | Pass::FlatOutline, Some(mesh)) => {
                    self.draw_lines(&mut drawing, mesh, (pass, samples), &of_it);
                }
                (_, Some(mesh)) => {
                    self.draw_surface(&mut drawing, scene, mesh, (pass, samples), &of_it);
                }
                (_, None) => {}
            }
        }
        drop(drawing);
        self.encode(&mut encoder, canvas);
        gpu.queue().submit([encoder.finish()]);
    }

    fn surroundings(&self, canvas: &Canvas, origin: DVec3, radius: f64) -> Surroundings {
        Surroundings {
            origin,
            radius,
            size: canvas.size,
            shadow_edge: self.light.shadow_edge,
            environment_levels: self.light.environment_levels,
            sh: self.light.sh,
        }
    }

    fn write(&self, gpu: &Gpu, frame: &Frame) {
        gpu.queue().write_buffer(&self.frame, 0, bytemuck::cast_slice(&frame.floats()));
    }

    /// Draws the shadow map, unless it shows the same already.
    fn draw_shadow(
        &mut self,
        encoder: &mut wgpu::CommandEncoder,
        mesh: &SceneMesh,
        view: &ModelView,
    ) {
        let hidden_parts = view.hidden_parts.clone();
        let wanted = Shadowed { mesh: mesh.number, key: view.lighting.key, hidden_parts };
        if self.shadowed.as_ref() == Some(&wanted) {
            return;
        }
        let Some(pipeline) = self.pipelines.get(Pass::Shadow, 1) else { return };
        let mut drawing = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
            label: Some("shadow"),
            depth_stencil_attachment: Some(depth(&self.light.shadow, 1.0, wgpu::StoreOp::Store)),
            ..wgpu::RenderPassDescriptor::default()
        });
        drawing.set_pipeline(pipeline);
        drawing.set_bind_group(0, &self.frame_group, &[]);
        drawing.set_vertex_buffer(0, mesh.vertices.slice(..));
        drawing.set_index_buffer(mesh.indices.slice(..), wgpu::IndexFormat::Uint32);
        for group in &mesh.groups {
            if is_shown(&view.hidden_parts, group.part.0 as usize) {
                drawing.draw_indexed(group.indices.clone(), 0, 0..1);
            }
        }
        drop(drawing);
        self.shadowed = Some(wanted);
    }

    fn draw_surface(
        &self,
        drawing: &mut wgpu::RenderPass<'_>,
        scene: &Scene,
        mesh: &SceneMesh,
        (pass, samples): (Pass, u32),
        wanted: &dyn Fn(MaterialSlot, usize) -> bool,
    ) {
        let Some(pipeline) = self.pipelines.get(pass, samples) else { return };
        drawing.set_pipeline(pipeline);
        drawing.set_bind_group(1, &self.light.group, &[]);
        drawing.set_vertex_buffer(0, mesh.vertices.slice(..));
        drawing.set_index_buffer(mesh.indices.slice(..), wgpu::IndexFormat::Uint32);
        let mut bound = None;
        for group in &mesh.groups {
            if !wanted(group.material, group.part.0 as usize) {
                continue;
            }
            if bound != Some(group.material) {
                drawing.set_bind_group(2, &scene.material(group.material).bind_group, &[]);
                bound = Some(group.material);
            }
            drawing.draw_indexed(group.indices.clone(), 0, 0..1);
        }
    }

    fn draw_lines(
        &self,
        drawing: &mut wgpu::RenderPass<'_>,
        mesh: &SceneMesh,
        (pass, samples): (Pass, u32),
        wanted: &dyn Fn(MaterialSlot, usize) -> bool,
    ) {
        let Some(pipeline) = self.pipelines.get(pass, samples) else { return };
        let is_outline = pass == Pass::FlatOutline;
        let lines = if is_outline { &mesh.outlines } else { &mesh.edges };
        drawing.set_pipeline(pipeline);
        drawing.set_bind_group(1, &mesh.line_group, &[]);
        drawing.set_vertex_buffer(0, lines.slice(..));
        for group in &mesh.groups {
            let range = if is_outline { &group.outlines } else { &group.edges };
            if wanted(group.material, group.part.0 as usize) && !range.is_empty() {
                drawing.draw(0..6, range.clone());
            }
        }
    }

    fn draw_everywhere(
        &self,
        drawing: &mut wgpu::RenderPass<'_>,
        scene: &Scene,
        material: MaterialSlot,
        (pass, samples): (Pass, u32),
    ) {
        let Some(pipeline) = self.pipelines.get(pass, samples) else { return };
        drawing.set_pipeline(pipeline);
        drawing.set_bind_group(1, &self.light.group, &[]);
        drawing.set_bind_group(2, &scene.material(material).bind_group, &[]);
        drawing.draw(0..3, 0..1);
    }

    fn encode(&self, encoder: &mut wgpu::CommandEncoder, canvas: &Canvas) {
        let Some(pipeline) = self.pipelines.get(Pass::Picture, 1) else { return };
        let mut drawing = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
            label: Some("picture"),
            color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                view: &canvas.shown_view,
                depth_slice: None,
                resolve_target: None,
                ops: wgpu::Operations {
                    load: wgpu::LoadOp::Clear(wgpu::Color::BLACK),
                    store: wgpu::StoreOp::Store,
                },
            })],
            ..wgpu::RenderPassDescriptor::default()
        });
        drawing.set_pipeline(pipeline);
        drawing.set_bind_group(0, &canvas.drawn_group, &[]);
        drawing.draw(0..3, 0..1);
    }
}

/// Radiance 1 from everywhere.
fn even_light() -> Prefiltered {
    let one = half::f16::ONE.to_bits();
    let everywhere = (0..6).map(|face| {
        let towards = cube_direction(face, 0.0, 0.0);
        (towards, Vec3::ONE, 4.0 * std::f32::consts::PI / 6.0)
    });
    Prefiltered {
        levels: vec![vec![[one; 4]; 6]],
        irradiance: ShIrradiance::from_radiance(everywhere),
    }
}

/// Parts that nobody spoke of are shown.
fn is_shown(hidden: &[bool], part: usize) -> bool {
    hidden.get(part) != Some(&true)
}

/// What lies over the texture, from below.
fn flat_passes(picture: &FlatPicture) -> Vec<Pass> {
    let mut passes = Vec::new();
    if picture.shown == Shown::Islands {
        passes.push(Pass::FlatIslands);
    }
    if picture.wire {
        passes.push(Pass::FlatWire);
    }
    if picture.outlines {
        passes.push(Pass::FlatOutline);
    }
    match picture.footprint {
        Some(Footprint::Surface { .. }) => passes.push(Pass::FlatFootprint),
        Some(Footprint::Texture { material, .. }) if material == picture.material => {
            passes.push(Pass::FlatDisc);
        }
        _ => {}
    }
    passes
}

fn background(frame: &Frame) -> wgpu::Color {
    let [r, g, b, _] = frame.background.map(f64::from);
    wgpu::Color { r, g, b, a: 0.0 }
}

fn depth(
    view: &wgpu::TextureView,
    clear: f32,
    store: wgpu::StoreOp,
) -> wgpu::RenderPassDepthStencilAttachment<'_> {
    wgpu::RenderPassDepthStencilAttachment {
        view,
        depth_ops: Some(wgpu::Operations { load: wgpu::LoadOp::Clear(clear), store }),
        stencil_ops: None,
    }
}

fn begin<'e>(
    encoder: &'e mut wgpu::CommandEncoder,
    canvas: &Canvas,
    background: wgpu::Color,
) -> wgpu::RenderPass<'e> {
    let (view, resolve_target, store) = match &canvas.sampled {
        Some(sampled) => (sampled, Some(&canvas.drawn), wgpu::StoreOp::Discard),
        None => (&canvas.drawn, None, wgpu::StoreOp::Store),
    };
    encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
        label: Some("model"),
        color_attachments: &[Some(wgpu::RenderPassColorAttachment {
            view,
            depth_slice: None,
            resolve_target,
            ops: wgpu::Operations { load: wgpu::LoadOp::Clear(background), store },
        })],
        depth_stencil_attachment: Some(depth(&canvas.depth, 0.0, wgpu::StoreOp::Discard)),
        ..wgpu::RenderPassDescriptor::default()
    })
}
