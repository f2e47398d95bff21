// What a captain does with the pages, in a real browser: reads them, points at the track, changes units, prints.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { cpSync, mkdtempSync, readFileSync, readdirSync, rmSync, statSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, test } from "node:test";
import { PAGES, PROGRAM, SAMPLES, TRIP, close, open } from "./browser.mjs";

after(close);

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const files = readdirSync(PAGES).filter((name) => name.endsWith(".html"));

test("every page opens from a file without an error and asks the network for nothing", async () => {
  assert.ok(files.length >= 4, files.join(" "));
  for (const file of files) {
    const { page, trouble } = await open(file);
    const drawn = await page.evaluate(() => performance.timing.loadEventEnd - performance.timing.navigationStart);
    console.log(`${file}: ${Math.round(statSync(join(PAGES, file)).size / 1024)} KiB, open to drawn ${drawn} ms`);
    assert.deepEqual(trouble, []);
    await page.close();
  }
});

test("a trip's page answers what a captain asks, without a script too", async () => {
  const { page } = await open(TRIP);
  const answers = await page.locator(".answers").innerText();
  for (const about of ["Strongest break", "Thermocline", "Best depth", "Best temperature", "Next time", "Data"]) {
    assert.ok(answers.includes(about), answers);
  }
  assert.match(answers, /warm side (north|south|east|west)/);
  // pictures stand in the file itself
  const text = readFileSync(join(PAGES, TRIP), "utf8").split("<script")[0];
  for (const id of ["map", "strip", "section"]) assert.ok(text.includes(`id="${id}"`), id);
  await page.close();
});

test("pointing at the map moves the cursor on strip and section, and the other way round", async () => {
  const { page, trouble } = await open(TRIP);
  const place = (id) => page.locator(id).getAttribute("transform");
  await page.locator("#strip").hover({ position: { x: 300, y: 100 } });
  const first = [await place("#map-cursor"), await place("#strip-cursor"), await place("#section-cursor")];
  assert.ok(first.every((at) => at?.startsWith("translate(")), first.join(" "));
  assert.match(await page.locator("#readout").innerText(), /^\d\d:\d\d · surface [\d.]+ °F .* mph · [\d.]+ mi run$/);

  await page.locator("[data-zoom=whole]").click();
  await page.locator(".start rect").scrollIntoViewIfNeeded();
  const start = await page.locator(".start rect").boundingBox();
  await page.mouse.move(start.x + start.width / 2, start.y + start.height / 2);
  const second = [await place("#map-cursor"), await place("#strip-cursor"), await place("#section-cursor")];
  first.forEach((at, i) => assert.notEqual(at, second[i]));
  // the start of the track is at the left end of the strip or before it
  assert.ok(Number(second[1].match(/\(([\d.]+)/)[1]) <= 60, second[1]);
  assert.deepEqual(trouble, []);
  await page.close();
});

test("the map is enlarged and moved by wheel, buttons and keys, and its graticule follows", async () => {
  const { page, trouble } = await open(TRIP);
  const chart = () => page.locator("#chart").getAttribute("transform");
  const labels = () => page.locator("#graticule text").allTextContents();
  const before = await labels();
  await page.locator("[data-zoom=in]").click();
  await page.locator("[data-zoom=in]").click();
  const enlarged = await chart();
  assert.match(enlarged, /scale\(2\.5/);
  assert.notDeepEqual(await labels(), before);
  assert.ok((await labels()).every((label) => /^\d{2,3}°\d\d\.\d+'[NSEW]$/.test(label)));

  await page.locator("#map").focus();
  await page.keyboard.press("ArrowRight");
  assert.notEqual(await chart(), enlarged);
  await page.keyboard.press(".");
  assert.match(await page.locator("#readout").innerText(), /run$/);
  await page.keyboard.press("0");
  assert.match(await chart(), /scale\(1\.0/);

  const box = await page.locator("#map").boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.keyboard.down("Control");
  await page.mouse.wheel(0, -400);
  await page.keyboard.up("Control");
  await page.waitForFunction(() => !document.querySelector("#chart").getAttribute("transform").includes("scale(1.0"));
  assert.deepEqual(trouble, []);
  await page.close();
});

test("two fingers enlarge the map", async () => {
  const { page, trouble } = await open(TRIP, { width: 390, height: 844 });
  await page.locator("#map").scrollIntoViewIfNeeded();
  const { x, y, width, height } = await page.locator("#map").boundingBox();
  const touch = await page.context().newCDPSession(page);
  const at = (apart) => [-1, 1].map((side, id) => ({ x: x + width / 2 + side * apart, y: y + height / 2, id }));
  await touch.send("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: at(20) });
  for (const apart of [30, 50, 80]) {
    await touch.send("Input.dispatchTouchEvent", { type: "touchMove", touchPoints: at(apart) });
  }
  await touch.send("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
  const scale = Number((await page.locator("#chart").getAttribute("transform")).match(/scale\(([\d.]+)/)[1]);
  assert.ok(scale > 2, `${scale}`);
  assert.deepEqual(trouble, []);
  await page.close();
});

test("units change everywhere at once and nothing is left in another", async () => {
  for (const [file, main] of [[TRIP, /°F/], [files.find((name) => name.startsWith("places-")), /°F/], ["season-2026.html", /ft/]]) {
    const { page, trouble } = await open(file);
    await page.evaluate(() => { for (const closed of document.querySelectorAll("details")) closed.open = true; });
    // what can be seen, the switch itself left out, and what is shown where the pointer rests
    const shown = () => page.evaluate(() => {
      const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
      const texts = [];
      while (walk.nextNode()) {
        const parent = walk.currentNode.parentElement;
        if (parent.tagName === "title" || parent.getBoundingClientRect().width > 0) texts.push(walk.currentNode.data);
      }
      return texts.join(" ");
    });
    const inImperial = await shown();
    assert.match(inImperial, main, file);
    assert.doesNotMatch(inImperial, /\d ?°C|km\/h|\d ?kn\b/, file);
    for (const [value, has, hasNot] of [
      ["metric", /\d ?(km\/h|m)\b/, /°F|mph|\d ?kn\b|\d ?ft\b|nmi/],
      ["marine", /\d ?(kn|m)\b/, /°F|mph|km\/h|\d ?ft\b/],
      ["imperial", main, /\d ?°C|km\/h|\d ?kn\b/],
    ]) {
      await page.locator(`input[value=${value}]`).check();
      assert.match(await shown(), has, file);
      assert.doesNotMatch(await shown(), hasNot, file);
    }
    assert.equal(await shown(), inImperial);
    assert.deepEqual(trouble, []);
    await page.close();
  }
});

test("the title of a mark says what its row says, in every system", async () => {
  const { page } = await open(TRIP);
  for (const value of ["imperial", "metric", "marine"]) {
    await page.locator(`input[value=${value}]`).check();
    const titles = await page.locator("#chart .bites title").allTextContents();
    const rows = page.locator("#marks ~ .wide").first().locator("tbody tr");
    assert.equal(titles.length, await rows.count());
    for (const n of [0, 3, titles.length - 1]) {
      const cells = await rows.nth(n).locator("td").evaluateAll((cells) => cells.map((cell) => cell.innerText));
      const [clock, species, , depth, water] = cells;
      const said = [clock, species, depth.split(" ±")[0], water].filter((text) => text !== "–");
      for (const text of said) assert.ok(titles[n].includes(text), `${value}: ${titles[n]} has no ${text}`);
    }
  }
  await page.close();
});

test("the map of places shows one part of the season and one species at a time", async () => {
  const file = files.find((name) => name.startsWith("places-"));
  const { page, trouble } = await open(file);
  const shown = page.locator("#chart .cell:not([hidden])");
  // what the file shows by itself is what the script shows at first
  const byItself = readFileSync(join(PAGES, file), "utf8").split("<script")[0].match(/class="cell" transform="[^"]*">/g).length;
  assert.equal(await shown.count(), byItself);
  assert.match(await page.locator("#shown").innerText(), /, all species$/);
  const parts = await page.locator("#part option").evaluateAll((options) => options.map((option) => option.value));
  const species = await page.locator("#species option").evaluateAll((options) => options.map((option) => option.value));
  await page.locator("#species").selectOption(species.at(-1));
  assert.match(await page.locator("#shown").innerText(), new RegExp(`, ${species.at(-1)}$`));
  await page.locator("#species").selectOption("*");

  // the words of a place are those of the list, in any units
  for (const part of parts) {
    await page.locator("#part").selectOption(part);
    assert.equal(await page.locator(".parts .shown").getAttribute("data-part"), part);
    const list = page.locator("#every-place ul").nth(parts.indexOf(part)).locator("li");
    for (const value of ["metric", "imperial"]) {
      await page.locator(`input[value=${value}]`).check();
      await page.locator("#map").focus();
      await page.keyboard.press(".");
      await page.keyboard.press(",");
      const read = await page.locator("#readout").textContent();
      assert.match(read, /^\d\d°\d\d\.\d{3}'N /);
      if (await list.count()) assert.equal(read, await list.first().textContent());
    }
  }

  // no bite came under ice
  await page.locator("#surface").fill("-40");
  assert.equal(await page.locator("#chart .cell:not([hidden]):not(.off)").count(), 0);
  await page.locator("#surface").fill("");
  assert.equal(await page.locator("#chart .cell.off:not([hidden])").count(), 0);
  assert.deepEqual(trouble, []);
  await page.close();
});

test("the map of places is enlarged and moved, and read where the pointer is", async () => {
  const { page, trouble } = await open(files.find((name) => name.startsWith("places-")));
  const chart = () => page.locator("#chart").getAttribute("transform");
  await page.locator("#map").scrollIntoViewIfNeeded();
  await page.locator("#chart .cell:not([hidden])").first().hover();
  assert.match(await page.locator("#readout").innerText(), /^\d\d°/);
  await page.locator("[data-zoom=in]").click();
  await page.locator("[data-zoom=in]").click();
  const enlarged = await chart();
  assert.match(enlarged, /scale\(2\.5/);
  const box = await page.locator("#map").boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 + 60, box.y + box.height / 2);
  await page.mouse.up();
  assert.notEqual(await chart(), enlarged);
  await page.locator("[data-zoom=home]").click();
  assert.match(await chart(), /translate\(0\.00 0\.00\) scale\(1\.0/);
  assert.deepEqual(trouble, []);
  await page.close();
});

test("light follows the device and can be chosen", async () => {
  const ink = (page) => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const { page } = await open(TRIP, { colorScheme: "dark" });
  const dark = await ink(page);
  await page.locator("input[name=light][value=light]").check();
  const light = await ink(page);
  assert.notEqual(dark, light);
  assert.equal(light, "rgb(255, 255, 255)");
  await page.locator("input[name=light][value=dark]").check();
  assert.equal(await ink(page), dark);
  await page.close();
});

test("no page scrolls sideways on a phone or a desk", async () => {
  for (const file of files) {
    for (const width of [320, 390, 820, 1280, 1920]) {
      const { page } = await open(file, { width });
      const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      assert.ok(over <= 0, `${file} at ${width}: ${over} px`);
      await page.close();
    }
  }
});

test("every page but the index prints on one sheet of either paper", async () => {
  for (const file of files.filter((name) => name !== "index.html")) {
    for (const format of ["A4", "Letter"]) {
      const { page } = await open(file, { colorScheme: "dark" });
      const pdf = (await page.pdf({ format, preferCSSPageSize: false })).toString("latin1");
      const sheets = pdf.match(/\/Type\s*\/Page\b(?!s)/g).length;
      assert.equal(sheets, 1, `${file} on ${format}: ${sheets} sheets`);
      await page.close();
    }
  }
});

test("the keyboard reaches everything, in order, and shows where it is", async () => {
  const { page } = await open(TRIP);
  const stops = [];
  for (let i = 0; i < 24; i += 1) {
    await page.keyboard.press("Tab");
    stops.push(await page.evaluate(() => {
      const now = document.activeElement;
      const outlined = getComputedStyle(now).outlineStyle !== "none";
      return `${now.id || now.name || now.className || now.tagName}${outlined ? "" : " (unseen)"}`;
    }));
  }
  assert.equal(stops[0].split(" ")[0], "skip");
  for (const stop of ["units", "light", "map", "walk"]) assert.ok(stops.some((name) => name.startsWith(stop)), stops.join(", "));
  assert.ok(stops.every((name) => !name.endsWith("(unseen)")), stops.join(", "));

  await page.locator("#walk").focus();
  await page.keyboard.press("ArrowRight");
  assert.match(await page.locator("#walk").getAttribute("aria-valuetext"), /^\d\d:\d\d · .*run$/);
  await page.close();
});

test("axe finds nothing serious, in light and in dark", async () => {
  for (const file of files) {
    for (const colorScheme of ["light", "dark"]) {
      const { page } = await open(file, { colorScheme });
      // past the page's policy, as the test's own code
      const session = await page.context().newCDPSession(page);
      await session.send("Runtime.evaluate", { expression: axe });
      const { violations } = await page.evaluate(() => globalThis.axe.run());
      const serious = violations.filter(({ impact }) => ["serious", "critical"].includes(impact));
      assert.deepEqual(serious.map(({ id, nodes }) => `${id}: ${nodes[0].html}`), [], `${file}, ${colorScheme}`);
      await page.close();
    }
  }
});

test("a note that holds a script is a note", async () => {
  const folder = mkdtempSync(join(tmpdir(), "hostile-"));
  try {
    cpSync(join(SAMPLES, "2026-07-18"), join(folder, "card"), { recursive: true });
    cpSync(join(SAMPLES, "waterseam.toml"), join(folder, "card", "waterseam.toml"));
    const evil = "<script>document.title='taken'</script><img src=x onerror=alert(1)>";
    const notes = join(folder, "card", "bites 2026-07-18.csv");
    const [head, ...rows] = readFileSync(notes, "utf8").trimEnd().split(/\r?\n/);
    const lure = head.split(",").findIndex((name) => /lure/i.test(name));
    const changed = rows.map((row) => row.split(",").map((cell, i) => (i === lure ? evil.replaceAll(",", " ") : cell)).join(","));
    writeFileSync(notes, [head, ...changed].join("\r\n"));
    execFileSync(PROGRAM, ["--quiet", "process", join(folder, "card"), "--logbook", join(folder, "logbook")]);
    const { page, trouble } = await open(TRIP, { folder: join(folder, "logbook-report") });
    assert.ok((await page.locator("#marks ~ .wide").first().innerText()).includes(evil));
    assert.notEqual(await page.title(), "taken");
    assert.equal(await page.locator("img").count(), 0);
    assert.deepEqual(trouble, []);
    await page.close();
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
