//! `scumble info`: what a model holds, and what is wrong with its layout.

use std::collections::BTreeSet;
use std::sync::Arc;

use document::{Edit, Model};
use editor::{Editor, EditorError, Ledger, Settings};
use exchange::read_model;
use raster::TextureSize;
use serde::Serialize;
use surface::{MaterialSlot, PartId, Surface, TriangleId, UvFinding, UvReport};

use crate::apply::texture_size;
use crate::arguments::Info;
use crate::failure::Failure;
use crate::progress::Bar;
use crate::project;

/// More findings of the text form than this are counted, not listed.
const MOST_LISTED: usize = 40;

#[derive(Debug, Serialize)]
struct Report {
    file: String,
    model: String,
    faces: usize,
    triangles: usize,
    vertices: usize,
    islands: usize,
    overlaps: usize,
    parts: Vec<PartReport>,
    materials: Vec<MaterialReport>,
    findings: Vec<Finding>,
    notes: Vec<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    maps: Vec<String>,
    memory: MemoryReport,
}

/// What painting takes, before the first stroke.
#[derive(Debug, Serialize)]
struct MemoryReport {
    texture_size: u32,
    bytes: usize,
    budget_bytes: usize,
    holdings: Vec<HoldingReport>,
}

#[derive(Debug, Serialize)]
struct HoldingReport {
    what: &'static str,
    bytes: usize,
    when_short: &'static str,
}

#[derive(Debug, Serialize)]
struct PartReport {
    name: String,
    triangles: usize,
    islands: usize,
    materials: Vec<String>,
}

#[derive(Debug, Serialize)]
struct MaterialReport {
    name: String,
    triangles: usize,
    islands: usize,
    /// Texels along one unit of the surface, on average; none without UVs.
    texels_per_unit: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Finding {
    kind: &'static str,
    text: String,
}

pub(crate) fn run(command: &Info) -> Result<(), Failure> {
    if project::is_project(&command.file) {
        return project::info(&command.file, command.json);
    }
    let size = texture_size(command.size)?;
    let imported = read_model(&command.file, &Bar::new("reading the model"))?;
    let file = command.file.display().to_string();
    let report = report(file, &Arc::new(imported.model), imported.notes, size)
        .map_err(|error| Failure::Text { path: command.file.clone(), reason: error.to_string() })?;
    if command.json {
        let json = serde_json::to_string_pretty(&report);
        println!("{}", json.map_err(|error| Failure::Check(error.to_string()))?);
    } else {
        print!("{}", text(&report));
    }
    let faults = report.findings.iter().filter(|finding| is_fault(finding.kind)).count();
    if command.check && faults > 0 {
        return Err(Failure::Check(format!(
            "{}: {faults} things keep it from being painted as it is",
            command.file.display()
        )));
    }
    Ok(())
}

/// Mirrored and stacked islands can be painted; the rest can't, or not apart.
fn is_fault(kind: &str) -> bool {
    matches!(kind, "missing" | "no_area" | "outside" | "overlap")
}

fn report(
    file: String,
    model: &Arc<Model>,
    notes: Vec<String>,
    size: TextureSize,
) -> Result<Report, EditorError> {
    let mut editor = Editor::new(Settings::default())?;
    let looking = Bar::new("looking at the surface");
    editor.apply(&Edit::Import { model: Arc::clone(model), size }, &looking)?;
    let surface = editor.surface(&looking)?;
    for material in &editor.document().materials {
        editor.texel_map(material.id, &looking)?;
    }
    let uvs = UvReport::of(&surface, size, &Bar::new("looking for overlaps"))
        .map_err(document::DocumentError::from)?;
    let mesh = surface.mesh();
    let list = surface.islands().list();
    let findings: Vec<Finding> = uvs
        .findings
        .iter()
        .map(|finding| Finding { kind: kind(finding), text: finding.to_string() })
        .collect();
    Ok(Report {
        file,
        model: model.hash().to_string(),
        faces: mesh.face_count(),
        triangles: surface.triangle_count(),
        vertices: mesh.positions().len(),
        islands: list.len(),
        overlaps: findings.iter().filter(|f| matches!(f.kind, "overlap" | "stacked")).count(),
        parts: (0u32..)
            .zip(mesh.parts())
            .map(|(number, part)| part_report(&surface, PartId(number), &part.name))
            .collect(),
        materials: (0u32..)
            .zip(mesh.material_names())
            .map(|(number, name)| material_report(&surface, MaterialSlot(number), name, size))
            .collect(),
        findings,
        notes,
        maps: maps(model),
        memory: memory(&editor.ledger(), size),
    })
}

fn triangle_ids(surface: &Surface) -> impl Iterator<Item = TriangleId> {
    (0..surface.triangle_count() as u32).map(TriangleId)
}

fn part_report(surface: &Surface, part: PartId, name: &str) -> PartReport {
    let mesh = surface.mesh();
    let faces = (0..mesh.face_count()).filter(|&face| mesh.face_part(face) == part);
    let slots: BTreeSet<MaterialSlot> = faces.map(|face| mesh.face_material(face)).collect();
    let names = slots.into_iter().map(|slot| mesh.material_names()[slot.0 as usize].clone());
    PartReport {
        name: name.to_owned(),
        triangles: triangle_ids(surface).filter(|&t| surface.part_of(t) == part).count(),
        islands: surface.islands().list().iter().filter(|island| island.part == part).count(),
        materials: names.collect(),
    }
}

fn material_report(
    surface: &Surface,
    material: MaterialSlot,
    name: &str,
    size: TextureSize,
) -> MaterialReport {
    let islands = surface.islands().list().iter().filter(|island| island.material == material);
    let (count, uv, area) = islands.fold((0, 0.0, 0.0), |(count, uv, area), island| {
        (count + 1, uv + island.uv_area.abs(), area + island.surface_area)
    });
    let density = (uv > 0.0 && area > 0.0).then(|| (uv / area).sqrt() * f64::from(size.edge()));
    MaterialReport {
        name: name.to_owned(),
        triangles: triangle_ids(surface).filter(|&t| surface.material_of(t) == material).count(),
        islands: count,
        texels_per_unit: density,
    }
}

fn memory(ledger: &Ledger, size: TextureSize) -> MemoryReport {
    let holdings = ledger.holdings.iter().map(|holding| HoldingReport {
        what: holding.what,
        bytes: holding.bytes,
        when_short: holding.when_short,
    });
    MemoryReport {
        texture_size: size.edge(),
        bytes: ledger.bytes(),
        budget_bytes: ledger.budget_bytes,
        holdings: holdings.collect(),
    }
}

fn maps(model: &Model) -> Vec<String> {
    let names = model.mesh().material_names().iter().zip(model.materials());
    names
        .flat_map(|(name, material)| {
            let painted = [
                ("base colour", material.base_colour_map.is_some()),
                ("roughness", material.roughness_map.is_some()),
                ("metalness", material.metalness_map.is_some()),
            ];
            let painted = painted.into_iter().filter(|(_, there)| *there);
            let painted = painted.map(move |(map, _)| format!("{name}: {map}, paintable"));
            let passing = material.pass_maps.iter().map(move |map| {
                format!(
                    "{name}: {}, goes through as it came",
                    format!("{:?}", map.kind).to_lowercase()
                )
            });
            painted.chain(passing).collect::<Vec<_>>()
        })
        .collect()
}

fn kind(finding: &UvFinding) -> &'static str {
    match finding {
        UvFinding::Missing { .. } => "missing",
        UvFinding::NoArea { .. } => "no_area",
        UvFinding::Outside { .. } => "outside",
        UvFinding::Overlap { stacked: true, .. } => "stacked",
        UvFinding::Overlap { .. } => "overlap",
        UvFinding::Mirrored { .. } => "mirrored",
    }
}

fn text(report: &Report) -> String {
    let mut lines = vec![
        report.file.clone(),
        format!(
            "  {} parts, {} materials, {} faces, {} triangles, {} vertices, {} islands, {} overlaps",
            report.parts.len(),
            report.materials.len(),
            report.faces,
            report.triangles,
            report.vertices,
            report.islands,
            report.overlaps
        ),
        format!("  content {}", report.model),
        "parts".to_owned(),
    ];
    lines.extend(report.parts.iter().map(|part| {
        let (name, triangles, islands) = (&part.name, part.triangles, part.islands);
        format!(
            "  {name:<24} {triangles:>9} triangles {islands:>6} islands  {}",
            part.materials.join(", ")
        )
    }));
    lines.push("materials".to_owned());
    lines.extend(report.materials.iter().map(|material| {
        let (name, triangles, islands) = (&material.name, material.triangles, material.islands);
        let density = material.texels_per_unit.map(|d| format!("  {d:.0} texels a unit"));
        format!(
            "  {name:<24} {triangles:>9} triangles {islands:>6} islands{}",
            density.unwrap_or_default()
        )
    }));
    section(&mut lines, "maps", report.maps.iter().map(String::as_str));
    section(&mut lines, "layout", report.findings.iter().map(|finding| finding.text.as_str()));
    section(&mut lines, "notes", report.notes.iter().map(String::as_str));
    lines.extend(memory_lines(&report.memory));
    lines.push(String::new());
    lines.join("\n")
}

fn memory_lines(memory: &MemoryReport) -> Vec<String> {
    let mebibytes = |bytes: usize| format!("{:>9.1} MiB", bytes as f64 / f64::from(1 << 20));
    let (taken, budget) = (mebibytes(memory.bytes), mebibytes(memory.budget_bytes));
    let mut lines = vec![format!(
        "memory to paint it at {} texels: {} of {}",
        memory.texture_size,
        taken.trim(),
        budget.trim()
    )];
    lines.extend(memory.holdings.iter().map(|holding| {
        let (what, bytes) = (holding.what, mebibytes(holding.bytes));
        format!("  {what:<24} {bytes}  {}", holding.when_short)
    }));
    lines
}

fn section<'a>(lines: &mut Vec<String>, title: &str, entries: impl Iterator<Item = &'a str>) {
    let entries: Vec<&str> = entries.collect();
    if !entries.is_empty() {
        lines.push(title.to_owned());
        lines.extend(entries.iter().take(MOST_LISTED).map(|entry| format!("  {entry}")));
        if entries.len() > MOST_LISTED {
            lines.push(format!("  and {} more (--json lists all)", entries.len() - MOST_LISTED));
        }
    }
}
