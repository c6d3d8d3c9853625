// Loads the exported GLB and OBJ in a browser with three, shows their base colour unlit, and compares the
// pixels with what our PNG holds at the UV under each of them.
// Usage: node show_models.mjs NODE_FOLDER FOLDER
//
// The pictures stay in FOLDER/shown/ to be looked at.

import { spawn } from "node:child_process";
import {
  createReadStream,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { createServer } from "node:http";
import { tmpdir } from "node:os";
import { extname, join, normalize, resolve } from "node:path";
import { fileURLToPath } from "node:url";

import { readPng } from "./png.mjs";

const TOLERANCE = 2;
const FEWEST_OF_A_MATERIAL = 120;
const MATERIALS = ["bronze", "iron", "oak", "hemp"];
const PATIENCE_MS = 240_000;

const [nodeFolder, folder] = process.argv.slice(2).map((path) => resolve(path));
const here = fileURLToPath(new URL(".", import.meta.url));
const FOLDERS = { three: join(nodeFolder, "node_modules/three"), models: folder, page: here };
const TYPES = { ".html": "text/html", ".js": "text/javascript", ".mjs": "text/javascript", ".png": "image/png" };

/** Waits until the page has posted what it saw, then ends the browser. */
async function shown() {
  let report;
  const posted = new Promise((done) => (report = done));
  const server = createServer((request, response) => {
    if (request.method === "POST") {
      const pieces = [];
      request.on("data", (piece) => pieces.push(piece));
      request.on("end", () => {
        response.end();
        report(JSON.parse(Buffer.concat(pieces).toString()));
      });
      return;
    }
    const [, base, ...rest] = decodeURIComponent(new URL(request.url, "http://localhost").pathname).split("/");
    const path = join(FOLDERS[base] ?? "", normalize("/" + rest.join("/")));
    if (!(base in FOLDERS) || !existsSync(path)) {
      response.writeHead(404).end();
      return;
    }
    response.writeHead(200, { "content-type": TYPES[extname(path)] ?? "application/octet-stream" });
    createReadStream(path).pipe(response);
  });
  await new Promise((ready) => server.listen(0, "127.0.0.1", ready));
  const profile = mkdtempSync(join(tmpdir(), "scumble-browser-"));
  const browser = spawn(
    "chromium",
    [
      "--headless=new",
      "--no-sandbox",
      "--use-gl=angle",
      "--use-angle=swiftshader",
      "--enable-unsafe-swiftshader",
      "--ignore-gpu-blocklist",
      "--force-color-profile=srgb",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
      "--no-first-run",
      "--disable-dev-shm-usage",
      `--user-data-dir=${profile}`,
      `http://127.0.0.1:${server.address().port}/page/show_models.html`,
    ],
    // A group of its own, so that its helpers end with it.
    { stdio: ["ignore", "ignore", "pipe"], detached: true },
  );
  let complaints = "";
  browser.stderr.on("data", (text) => (complaints += text));
  const ended = new Promise((done) => {
    browser.on("error", (error) => done({ error: `chromium: ${error.message}` }));
    browser.on("exit", () => done({ error: `chromium ended early: ${complaints.slice(-2000)}` }));
  });
  let timer;
  const late = new Promise((done) => {
    timer = setTimeout(() => done({ error: `the page said nothing: ${complaints.slice(-2000)}` }), PATIENCE_MS);
  });
  const result = await Promise.race([posted, ended, late]);
  clearTimeout(timer);
  if (browser.exitCode === null && browser.pid) {
    process.kill(-browser.pid, "SIGKILL");
    await ended;
  }
  server.closeAllConnections();
  server.close();
  rmSync(profile, { recursive: true, force: true, maxRetries: 10, retryDelay: 200 });
  return result;
}

const toLinear = (encoded) => (encoded <= 0.04045 ? encoded / 12.92 : ((encoded + 0.055) / 1.055) ** 2.4);
const toEncoded = (linear) => (linear <= 0.0031308 ? linear * 12.92 : 1.055 * linear ** (1 / 2.4) - 0.055);

/** The map at a UV (v down), 0..255: four texels mixed in linear light, as a GPU does with an sRGB texture. */
function sampled(map, [u, v]) {
  const [x, y] = [u * map.width - 0.5, v * map.height - 0.5];
  const [left, top] = [Math.floor(x), Math.floor(y)];
  const [right, down] = [x - left, y - top];
  const inside = (at, size) => Math.min(Math.max(at, 0), size - 1);
  return [0, 1, 2].map((channel) => {
    const texel = (dx, dy) =>
      toLinear(map.at(inside(left + dx, map.width), inside(top + dy, map.height), channel) / map.largest);
    const upper = texel(0, 0) * (1 - right) + texel(1, 0) * right;
    const lower = texel(0, 1) * (1 - right) + texel(1, 1) * right;
    return 255 * toEncoded(upper * (1 - down) + lower * down);
  });
}

/** The base colour map of each material, as the MTL names it. */
function baseColourMaps() {
  const maps = {};
  let material;
  for (const line of readFileSync(join(folder, "harbour-bell.mtl"), "utf8").split(/\r?\n/)) {
    const [key, value] = line.trim().split(/\s+(.*)/);
    if (key === "newmtl") material = value;
    if (key === "map_Kd") maps[material] = readPng(join(folder, value));
  }
  return maps;
}

/** Compares the points of one model; gives the number of failures. */
function compare({ file, points, pictures }, maps) {
  for (const [view, picture] of Object.entries(pictures)) {
    const path = join(folder, "shown", `${file}.${view}.png`);
    writeFileSync(path, Buffer.from(picture.split(",")[1], "base64"));
  }
  let [worst, failures] = [0, 0];
  const counts = {};
  for (const { view, pixel, material, uv, rgb } of points) {
    counts[material] = (counts[material] ?? 0) + 1;
    const expected = sampled(maps[material], uv);
    const off = Math.max(...expected.map((value, channel) => Math.abs(value - rgb[channel])));
    worst = Math.max(worst, off);
    if (off > TOLERANCE && ++failures <= 10) {
      const rounded = expected.map((value) => value.toFixed(1));
      console.error(`${file}: ${view}, pixel ${pixel} (${material}, uv ${uv}) shows ${rgb}, our map holds ${rounded}`);
    }
  }
  for (const material of MATERIALS.filter((name) => !(counts[name] >= FEWEST_OF_A_MATERIAL))) {
    console.error(`${file}: too few points of ${material} compared: ${counts[material] ?? 0}`);
    failures += 1;
  }
  console.log(
    `${file}: ${points.length} points (${JSON.stringify(counts)}), worst ${worst.toFixed(2)} of 255, ${failures} failed`,
  );
  return failures;
}

mkdirSync(join(folder, "shown"), { recursive: true });
const { error, models } = await shown();
if (error) {
  console.error(error);
  process.exit(1);
}
const maps = baseColourMaps();
const failures = models.map((model) => compare(model, maps)).reduce((sum, count) => sum + count, 0);
process.exit(failures > 0 ? 1 : 0);
