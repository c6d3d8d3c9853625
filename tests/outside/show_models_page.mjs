// Runs in the browser: draws each model unlit from fixed cameras and posts points with their material, UV
// and colour. Points near a silhouette or a seam are left out: there a pixel's neighbours lie elsewhere.
//
// The cameras stand close, so that a pixel is half a texel or less: software renderers place vertices on a
// sixteenth of a pixel, and on a texture with fine grain half a texel shows.

import * as THREE from "three";
import { GLTFLoader } from "three/addons/loaders/GLTFLoader.js";
import { MTLLoader } from "three/addons/loaders/MTLLoader.js";
import { OBJLoader } from "three/addons/loaders/OBJLoader.js";

const SIZE = 800;
const STEP = 21;
/** Where each camera looks, from which direction, and how many metres it sees to each side. */
const VIEWS = {
  bell: { at: [0.0, 0.08, 0.245], from: [0.5, 0.1, 1.0], half: 0.08 },
  plate: { at: [0.02, 0.5, 0.01], from: [0.4, 0.1, 1.0], half: 0.055 },
  board: { at: [0.1, 0.5, 0.0], from: [-0.4, 0.2, -1.0], half: 0.1 },
  rope: { at: [0.0, -0.252, 0.25], from: [0.3, 0.0, 1.0], half: 0.04 },
};

async function loadGlb(path) {
  return (await new GLTFLoader().loadAsync(path)).scene;
}

async function loadObj(folder, name) {
  const manager = new THREE.LoadingManager();
  const missing = [];
  manager.onError = (url) => missing.push(url);
  const textures = new Promise((done) => (manager.onLoad = done));
  const library = await new MTLLoader(manager).setPath(folder).loadAsync(`${name}.mtl`);
  library.preload();
  const model = await new OBJLoader(manager).setMaterials(library).loadAsync(`${folder}${name}.obj`);
  await textures;
  if (missing.length > 0) throw new Error(`${name}: could not load ${missing.join(", ")}`);
  return model;
}

/** Its map times its colour and nothing else; the finest level only, so that one UV means one value. */
function unlit(material) {
  const { map, name, color, side } = material;
  if (!map) throw new Error(`material ${name} came without a base colour map`);
  map.minFilter = THREE.LinearFilter;
  map.generateMipmaps = false;
  map.needsUpdate = true;
  return new THREE.MeshBasicMaterial({ map, name, color, side });
}

function dress(model) {
  model.traverse((object) => {
    if (!object.isMesh) return;
    const { material } = object;
    object.material = Array.isArray(material) ? material.map(unlit) : unlit(material);
  });
}

/** Sees without perspective. */
function cameraOf({ at, from, half }) {
  const camera = new THREE.OrthographicCamera(-half, half, half, -half, 0.1, 10);
  const target = new THREE.Vector3(...at);
  camera.position.copy(target).addScaledVector(new THREE.Vector3(...from).normalize(), 3);
  camera.lookAt(target);
  camera.updateMatrixWorld();
  return camera;
}

function hitAt(ray, camera, model, x, y) {
  const middle = new THREE.Vector2(((x + 0.5) / SIZE) * 2 - 1, 1 - ((y + 0.5) / SIZE) * 2);
  ray.setFromCamera(middle, camera);
  const [hit] = ray.intersectObject(model, true);
  if (!hit) return null;
  const { material } = hit.object;
  return { uv: hit.uv, material: Array.isArray(material) ? material[hit.face.materialIndex] : material };
}

/** Whether the pixels around see the same stretch of the texture. */
function isAwayFromEdges(hit, ray, camera, model, x, y) {
  return [[1, 0], [-1, 0], [0, 1], [0, -1]].every(([dx, dy]) => {
    const near = hitAt(ray, camera, model, x + dx, y + dy);
    return near && near.material === hit.material && near.uv.distanceTo(hit.uv) < 0.02;
  });
}

/** What one view shows at evenly spaced pixels. */
function pointsOf(renderer, model, view, camera) {
  const gl = renderer.getContext();
  const pixels = new Uint8Array(SIZE * SIZE * 4);
  gl.readPixels(0, 0, SIZE, SIZE, gl.RGBA, gl.UNSIGNED_BYTE, pixels);
  const ray = new THREE.Raycaster();
  const points = [];
  for (let y = STEP; y < SIZE - STEP; y += STEP) {
    for (let x = STEP; x < SIZE - STEP; x += STEP) {
      const hit = hitAt(ray, camera, model, x, y);
      if (!hit || !isAwayFromEdges(hit, ray, camera, model, x, y)) continue;
      const at = ((SIZE - 1 - y) * SIZE + x) * 4;
      const { map, name } = hit.material;
      const uv = [hit.uv.x, map.flipY ? 1 - hit.uv.y : hit.uv.y];
      points.push({ view, pixel: [x, y], material: name, uv, rgb: [...pixels.slice(at, at + 3)] });
    }
  }
  return points;
}

function show(file, model) {
  dress(model);
  const renderer = new THREE.WebGLRenderer({ antialias: false, preserveDrawingBuffer: true });
  renderer.setPixelRatio(1);
  renderer.setSize(SIZE, SIZE);
  const scene = new THREE.Scene();
  scene.background = new THREE.Color(0x202020);
  scene.add(model);
  scene.updateMatrixWorld(true);
  const points = [];
  const pictures = {};
  for (const [view, placed] of Object.entries(VIEWS)) {
    const camera = cameraOf(placed);
    renderer.render(scene, camera);
    points.push(...pointsOf(renderer, model, view, camera));
    pictures[view] = renderer.domElement.toDataURL("image/png");
  }
  renderer.dispose();
  return { file, points, pictures };
}

async function run() {
  const models = [];
  models.push(show("harbour-bell.glb", await loadGlb("/models/harbour-bell.glb")));
  models.push(show("harbour-bell.obj", await loadObj("/models/", "harbour-bell")));
  return { models };
}

const report = await run().catch((error) => ({ error: `in the browser: ${error.stack ?? error}` }));
await fetch("/report", { method: "POST", body: JSON.stringify(report) });
