// How fast the pages are: `node bench.mjs ADDRESS STUDY [CLIP]`, with a desk running there.
// CLIP is the number of a clip in that study. A bare sequence of <img> frames does the same in the
// same browser and run, for comparison.
import { mkdtemp } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const [address, study, clip = "0", edges = ""] = process.argv.slice(2);
const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync"];
const PLAY_MS = 4000;
const profile = await mkdtemp(join(tmpdir(), "desk-"));
const context = await chromium.launchPersistentContext(profile, {
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", headless: true, args: FLAGS,
  viewport: { width: 1280, height: 720 },
});
const page = context.pages()[0] ?? (await context.newPage());
const image = await (await fetch(`${address}/api/studies/${study}/images/${clip}`)).json();
const times = image.frame_times_s;
const stored = times.length > 1 ? (times.length - 1) / (times.at(-1) - times[0]) : 30;
const told = { file: image.file, size: `${image.columns} x ${image.rows}`, frames: image.frames, stored_per_s: round(stored) };

function round(value) {
  return Math.round(value * 10) / 10;
}

// ---------------------------------------------------------------- the desk
await page.goto(`${address}/#/study/${study}`);
const button = page.getByRole("navigation").getByRole("button").filter({ hasText: image.file });
await button.waitFor();
const other = page.getByRole("navigation").getByRole("button").filter({ hasNotText: image.file });
if ((await other.count()) > 0) await other.first().click();
await page.waitForTimeout(1500);
told.first_frame_ms = round(await page.evaluate(async (file) => {
  const found = [...document.querySelectorAll("nav button")].find((one) => one.textContent.includes(file));
  const start = performance.now();
  found.click();
  const canvas = document.querySelector("canvas[data-view]");
  const stage = canvas.parentElement;
  while (!(stage.ariaLabel.includes(file) && canvas.dataset.shown === "true"))
    await new Promise((next) => requestAnimationFrame(next));
  return performance.now() - start;
}, image.file));
await page.waitForTimeout(3000);
await page.getByRole("application").first().focus();
await page.keyboard.press("Space");
told.played_per_s = round(await page.evaluate(async (ms) => {
  const canvas = document.querySelector("canvas[data-view]");
  let [count, last] = [0, ""];
  const start = performance.now();
  while (performance.now() - start < ms) {
    await new Promise((next) => requestAnimationFrame(next));
    if (canvas.dataset.frame !== last) [count, last] = [count + 1, canvas.dataset.frame];
  }
  return (count / (performance.now() - start)) * 1000;
}, PLAY_MS));
await page.keyboard.press("Space");

// ---------------------------------------------------------------- a bare sequence of pictures
const root = `${address}/api/studies/${study}/images/${clip}/frames`;
const bare = await page.evaluate(async ({ root, frames, rate, ms }) => {
  const img = document.body.appendChild(new Image());
  const start = performance.now();
  img.src = `${root}/0?bare`;
  await img.decode();
  const first = performance.now() - start;
  const all = await Promise.all(Array.from({ length: frames }, async (_, at) => {
    const one = new Image();
    one.src = `${root}/${at}?bare`;
    await one.decode();
    return one.src;
  }));
  let [count, last] = [0, -1];
  const begin = performance.now();
  while (performance.now() - begin < ms) {
    await new Promise((next) => requestAnimationFrame(next));
    const at = Math.floor(((performance.now() - begin) / 1000) * rate) % frames;
    if (at === last) continue;
    img.src = all[at];
    await img.decode();
    [count, last] = [count + 1, at];
  }
  img.remove();
  return { first, rate: (count / (performance.now() - begin)) * 1000 };
}, { root, frames: image.frames, rate: stored, ms: PLAY_MS });
told.bare_first_frame_ms = round(bare.first);
told.bare_played_per_s = round(bare.rate);

// ---------------------------------------------------------------- dragging an edge
if (edges) Object.assign(told, await dragging(edges));
console.log(JSON.stringify(told, null, 1));
await context.close();

async function dragging(file) {
  const state = await (await fetch(`${address}/api/studies/${study}`)).json();
  const found = state.reading.measurements.find((one) => one.quantity === "LVIDd" && one.beats[0].file === file);
  await page.getByRole("navigation").getByRole("button").filter({ hasText: file }).click();
  await page.getByRole("tabpanel").getByRole("button", { name: / LVIDd/ }).click();
  await page.waitForTimeout(500);
  const stage = await page.getByRole("application").first().boundingBox();
  const [left, top, scale] = (await page.locator("canvas[data-view]").first().getAttribute("data-view")).split(" ").map(Number);
  const [x, y] = found.beats[0].points[1];
  const at = [stage.x + left + (x + 0.5) * scale, stage.y + top + (y + 0.5) * scale];
  await page.mouse.move(...at);
  await page.mouse.down();
  await page.mouse.move(at[0], at[1] + 4);
  const answers = [];
  const asked = new Map();
  page.on("request", (one) => one.url().endsWith("/preview") && asked.set(one, performance.now()));
  page.on("response", (one) => asked.has(one.request()) && answers.push(performance.now() - asked.get(one.request())));
  const eye = await page.evaluate(async ({ x, y }) => {
    const host = document.querySelector(".stage");
    const above = host.querySelectorAll("canvas")[1].getContext("2d");
    const spent = [];
    for (let step = 0; step < 40; step += 1) {
      const before = above.getImageData(0, 0, above.canvas.width, above.canvas.height).data;
      const start = performance.now();
      host.dispatchEvent(new PointerEvent("pointermove", { clientX: x, clientY: y + 5 + step, pointerId: 1, pointerType: "mouse", bubbles: true }));
      await new Promise((next) => requestAnimationFrame(() => setTimeout(next)));
      const passed = performance.now() - start;
      const after = above.getImageData(0, 0, above.canvas.width, above.canvas.height).data;
      if (after.some((value, index) => value !== before[index])) spent.push(passed);
      await new Promise((next) => setTimeout(next, 40));
    }
    return spent.sort((a, b) => a - b);
  }, { x: at[0], y: at[1] });
  await page.waitForTimeout(800);
  await page.keyboard.press("Escape");
  const sorted = answers.sort((a, b) => a - b);
  const middle = (list) => round(list[Math.floor(list.length / 2)] ?? NaN);
  const high = (list) => round(list[Math.floor(list.length * 0.95)] ?? NaN);
  return {
    drag_to_eye_ms: middle(eye), drag_to_eye_95_ms: high(eye), drag_steps_seen: eye.length,
    drag_to_server_ms: middle(sorted), drag_to_server_95_ms: high(sorted), drag_answers: sorted.length,
  };
}
