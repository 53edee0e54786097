// Pictures of every page for docs/screens: `node screens.mjs [address] [folder]`, with a desk running there.
import { mkdir, mkdtemp } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { chromium } from "playwright-core";

const [address = "http://127.0.0.1:8400", folder = "../docs/screens"] = process.argv.slice(2);
const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync"];
const SIZES = { desktop: [1280, 720], tablet: [1080, 810], upright: [810, 1080], wide: [1920, 1080] };

await mkdir(folder, { recursive: true });
const profile = await mkdtemp(join(tmpdir(), "desk-"));
const context = await chromium.launchPersistentContext(profile, {
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", headless: true, args: FLAGS,
});
const page = context.pages()[0] ?? (await context.newPage());
page.on("pageerror", (error) => console.error("page error:", error.message));
page.on("console", (said) => said.type() === "error" && console.error("console:", said.text()));

async function shoot(name, size = "desktop") {
  const [width, height] = SIZES[size];
  await page.setViewportSize({ width, height });
  await page.waitForTimeout(350);
  // Speckle makes a PNG ten times as large.
  await page.screenshot({ path: join(folder, `${name}.jpg`), type: "jpeg", quality: 82 });
  console.log(name);
}
const stage = page.getByRole("application").first();
const press = (key) => page.keyboard.press(key);
const closed = async () => {
  await press("Escape");
  await page.waitForTimeout(150);
};
async function open(file) {
  await page.getByRole("navigation").getByRole("button").filter({ hasText: file }).click();
  await page.locator('canvas[data-shown="true"]').first().waitFor();
}

await page.goto(address);
await page.locator("main li").first().waitFor();
await shoot("studies");
await page.locator("main li a").first().click();
await page.locator('canvas[data-shown="true"]').first().waitFor();
await page.getByRole("button", { name: /LVIDd/ }).first().waitFor();
await shoot("clip");
await open("I0003");
await page.getByRole("tabpanel").getByRole("button", { name: /LVIDd/ }).click();
await shoot("mmode");
await shoot("mmode-tablet", "tablet");
await shoot("mmode-upright", "upright");
await shoot("mmode-wide", "wide");
await press("t");
await shoot("mmode-light");
await press("t");
await page.getByRole("tab", { name: /Checks/ }).click();
await page.getByRole("button", { name: "Show the picture" }).first().click();
await shoot("checks");
await page.getByRole("tab", { name: "Findings" }).click();
await shoot("findings");
for (const [name, key] of [["label", "l"], ["measure", "m"], ["keys", "?"], ["visit", "v"], ["save", "e"], ["scale", "k"]]) {
  await stage.focus();
  await press(key);
  await shoot(`window-${name}`);
  await closed();
}
await open("I0005");
await stage.focus();
await page.getByRole("tab", { name: /Numbers/ }).click();
await press("1");
const box = await stage.boundingBox();
await page.mouse.move(box.x + box.width * 0.45, box.y + box.height * 0.35);
await page.mouse.down();
await page.mouse.move(box.x + box.width * 0.55, box.y + box.height * 0.5, { steps: 6 });
await page.waitForTimeout(500);
await shoot("drawing");
await page.mouse.up();
await page.waitForTimeout(800);
await press("z");
await press("b");
await page.waitForTimeout(600);
await shoot("beside");
await context.close();
