// A browser that asks nobody for anything, and a page in it that counts what went wrong.
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

export const PAGES = resolve(process.env.WATERSEAM_PAGES ?? join(import.meta.dirname, "../../demo-logbook-report"));
export const PROGRAM = resolve(process.env.WATERSEAM ?? join(import.meta.dirname, "../../target/release/waterseam"));
export const SAMPLES = resolve(join(import.meta.dirname, "../../sample-logs"));
// the middle one of the sample trips, which has a break, a thermocline and bands
export const TRIP = "trip-20260718T072244Z.html";

const profile = mkdtempSync(join(tmpdir(), "pages-"));
const browser = await chromium.launchPersistentContext(profile, {
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  headless: true,
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync"],
});

export async function close() {
  await browser.close();
  rmSync(profile, { recursive: true, force: true });
}

/** Opens a page of the folder as a file; `trouble` collects errors and requests that leave the file. */
export async function open(file, { width = 1280, height = 900, folder = PAGES, colorScheme = "light" } = {}) {
  const page = await browser.newPage();
  await page.setViewportSize({ width, height });
  await page.emulateMedia({ colorScheme });
  const trouble = [];
  const address = pathToFileURL(join(folder, file)).href;
  page.on("console", (message) => { if (["error", "warning"].includes(message.type())) trouble.push(message.text()); });
  page.on("pageerror", (error) => trouble.push(String(error)));
  page.on("request", (request) => { if (request.url() !== address) trouble.push(`asked for ${request.url()}`); });
  await page.goto(address);
  return { page, trouble };
}
