//! Evaluates WGSL on whatever graphics adapter there is.

use bytemuck::cast_slice;
use glam::Vec4;
use viewport::shading::SHADER_LIBRARY;
use wgpu::util::{BufferInitDescriptor, DeviceExt as _};

/// A device without a window.
pub(crate) struct Adapter {
    pub(crate) device: wgpu::Device,
    pub(crate) queue: wgpu::Queue,
}

const LACKING: &str = "no graphics adapter: these tests need one, and a driver on the processor will do \
                       (on Debian: apt-get install mesa-vulkan-drivers)";

impl Adapter {
    pub(crate) fn new() -> Self {
        let descriptor = wgpu::InstanceDescriptor::new_without_display_handle_from_env();
        let instance = wgpu::Instance::new(descriptor);
        let found =
            pollster::block_on(instance.request_adapter(&wgpu::RequestAdapterOptions::default()));
        let adapter = found.unwrap_or_else(|error| panic!("{LACKING}: {error}"));
        let limits = wgpu::Limits::downlevel_defaults().using_resolution(adapter.limits());
        let descriptor = wgpu::DeviceDescriptor { required_limits: limits, ..Default::default() };
        let (device, queue) = pollster::block_on(adapter.request_device(&descriptor)).unwrap();
        Self { device, queue }
    }

    /// The value of `expression` for each group of inputs, which it reads as `i[0]`, `i[1]`, ..: with all of
    /// `shaders/lib` and `declarations` before it.
    pub(crate) fn evaluate<const GROUP: usize>(
        &self,
        expression: &str,
        inputs: &[[Vec4; GROUP]],
    ) -> Vec<Vec4> {
        self.evaluate_with("", &[], expression, inputs)
    }

    /// As [`Self::evaluate`], with bindings of group 1 and what declares them.
    pub(crate) fn evaluate_with<const GROUP: usize>(
        &self,
        declarations: &str,
        bindings: &[wgpu::BindingResource<'_>],
        expression: &str,
        inputs: &[[Vec4; GROUP]],
    ) -> Vec<Vec4> {
        let library: String = SHADER_LIBRARY.iter().map(|piece| piece.source).collect();
        let source = format!(
            "{library}
            {declarations}
            @group(0) @binding(0) var<storage, read> inputs: array<array<vec4f, {GROUP}>>;
            @group(0) @binding(1) var<storage, read_write> outputs: array<vec4f>;
            @compute @workgroup_size(64)
            fn evaluate(@builtin(global_invocation_id) id: vec3u) {{
                if id.x < arrayLength(&outputs) {{
                    let i = inputs[id.x];
                    outputs[id.x] = {expression};
                }}
            }}"
        );
        let module = self.device.create_shader_module(wgpu::ShaderModuleDescriptor {
            label: None,
            source: wgpu::ShaderSource::Wgsl(source.into()),
        });
        let pipeline = self.device.create_compute_pipeline(&wgpu::ComputePipelineDescriptor {
            label: None,
            layout: None,
            module: &module,
            entry_point: Some("evaluate"),
            compilation_options: wgpu::PipelineCompilationOptions::default(),
            cache: None,
        });
        let storage = wgpu::BufferUsages::STORAGE;
        let bytes = inputs.as_flattened();
        let input = self.device.create_buffer_init(&BufferInitDescriptor {
            label: None,
            contents: cast_slice(bytes),
            usage: storage,
        });
        let size = (inputs.len() * size_of::<Vec4>()) as u64;
        let buffer =
            |usage| wgpu::BufferDescriptor { label: None, size, usage, mapped_at_creation: false };
        let output = self.device.create_buffer(&buffer(storage | wgpu::BufferUsages::COPY_SRC));
        let read = wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST;
        let read = self.device.create_buffer(&buffer(read));
        let group = |index: u32, resources: Vec<wgpu::BindingResource<'_>>| {
            let entries: Vec<_> = (0..)
                .zip(resources)
                .map(|(binding, resource)| wgpu::BindGroupEntry { binding, resource })
                .collect();
            self.device.create_bind_group(&wgpu::BindGroupDescriptor {
                label: None,
                layout: &pipeline.get_bind_group_layout(index),
                entries: &entries,
            })
        };
        let mut encoder =
            self.device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        {
            let mut pass = encoder.begin_compute_pass(&wgpu::ComputePassDescriptor::default());
            pass.set_pipeline(&pipeline);
            let buffers = vec![input.as_entire_binding(), output.as_entire_binding()];
            pass.set_bind_group(0, &group(0, buffers), &[]);
            if !bindings.is_empty() {
                pass.set_bind_group(1, &group(1, bindings.to_vec()), &[]);
            }
            pass.dispatch_workgroups(inputs.len().div_ceil(64) as u32, 1, 1);
        }
        encoder.copy_buffer_to_buffer(&output, 0, &read, 0, size);
        self.queue.submit([encoder.finish()]);
        read.map_async(wgpu::MapMode::Read, .., |mapped| mapped.unwrap());
        self.device.poll(wgpu::PollType::wait_indefinitely()).unwrap();
        let view = read.get_mapped_range(..).unwrap();
        cast_slice(&view).to_vec()
    }
}
