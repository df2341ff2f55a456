// Drives the pages in a headless browser: they answer, read out what fields.h5 holds, ask nothing of the network, and can be used by all.
//
//   node test_page.mjs PROGRAM CASES DATA OUT MODULES
//
// OUT: folder for results and screenshots, which stay. MODULES: folder in which npm put the driver and the accessibility checker.
// Ends with 77 when browser or packages are not there: the test is then skipped, not passed.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { cellAlong, readGrid, readSet } from './fields.mjs';

const [program, cases, data, out, modules] = process.argv.slice(2);
const BROWSER = '/usr/bin/chromium';
const skip = (why) => { console.log(`skipped: ${why}`); process.exit(77); };
if (!existsSync(BROWSER)) skip(`${BROWSER} is not installed (scripts/setup test installs it)`);
if (!existsSync(join(modules, 'node_modules', 'playwright-core'))) skip(`the npm packages are not in ${modules} (scripts/setup test puts them there)`);
const require = createRequire(join(modules, 'package.json'));
const { chromium } = require('playwright-core');
const axeSource = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

const MINUS = '\u2212';
const plain = (text) => Number(text.replace(MINUS, '-').replace(/\u00a0.*$/, '').replace(/:.*$/, ''));

// Equal to four digits: within half a unit of the fourth digit, and what the page's own rounding (15 bits of mantissa) adds.
function sameToFourDigits(text, want, what) {
  const got = plain(text), unit = want === 0 ? 1e-6 : 10 ** (Math.floor(Math.log10(Math.abs(want))) - 3);
  assert.ok(Math.abs(got - want) <= 0.5 * unit + 2e-5 * Math.abs(want) + 1e-9, `${what}: the page says ${text}, the file holds ${want}`);
}

function run(caseFile, name, ...options) {
  const dir = join(out, name);
  rmSync(dir, { recursive: true, force: true });
  execFileSync(program, ['run', caseFile, '-o', dir, '--quiet', ...options], { stdio: ['ignore', 'ignore', 'inherit'] });
  return dir;
}

let browser;

// Opens a page and watches it: every fault of the console and every request is kept.
async function open(file, viewport, colorScheme = 'light') {
  const page = await browser.newPage({ viewport, colorScheme });
  page.faults = [];
  page.asked = [];
  page.on('console', (m) => { if (m.type() === 'error' || m.type() === 'warning') page.faults.push(m.text()); });
  page.on('pageerror', (e) => page.faults.push(String(e)));
  page.on('request', (r) => { if (!/^(data|blob):/.test(r.url())) page.asked.push(r.url()); });
  await page.goto(pathToFileURL(file).href);
  await page.waitForSelector('html[data-ready]', { timeout: 20000 });
  await settled(page);
  return page;
}

// Until the drawing that was asked for is done.
async function settled(page) {
  let before = -1;
  for (let i = 0; i < 100; i++) {
    const now = await page.evaluate(() => Number(document.documentElement.dataset.drawn || 0));
    if (now === before && now > 0) return;
    before = now;
    await page.waitForTimeout(60);
  }
}

async function close(page, file) {
  assert.deepEqual(page.faults, [], 'the console is quiet');
  assert.deepEqual(page.asked, [pathToFileURL(file).href], 'nothing but the page itself is asked for');
  await page.close();
}

async function accessible(page, what) {
  await page.evaluate(axeSource);
  const found = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
  const told = found.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => `${n.target.join(' ')} ${n.any.map((a) => a.message).join('; ')}`).join(' | ')}`);
  assert.deepEqual(told, [], `accessibility of ${what}`);
}

const noSideways = async (page) => assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth), 'nothing sticks out to the side');
const setSlider = async (page, index) => {
  await page.locator('#time').evaluate((e, v) => { e.value = String(v); e.dispatchEvent(new Event('input')); }, index);
  await settled(page);
};

async function readout(page) {
  const place = await page.locator('#readout .place').textContent();
  const values = Object.fromEntries(await page.locator('#readout dd').evaluateAll((all) => all.map((e) => [e.dataset.name, e.textContent])));
  const part = await page.locator('#readout p').nth(1).textContent();
  const numbers = [...place.matchAll(/([rxyz])\u00a0=\u00a0(\u2212?[\d.]+)/g)].map((m) => [m[1], plain(m[2]) / 1000]);
  return { place, part, values, at: { r: 0, ...Object.fromEntries(numbers) } };
}

// Points at places of a canvas (shares of its box) and holds what is read out against the file.
async function pointerReadsTheFile(page, dir, canvas, places, times) {
  const file = join(dir, 'fields.h5'), revolved = existsSync(join(dir, 'case.yaml')) && /dimension: rz/.test(readFileSync(join(dir, 'case.yaml'), 'utf8'));
  const { edges, num } = readGrid(file, revolved), cells = num[0] * num[1] * num[2];
  const sets = {};
  const value = (name, cell, time) => {
    sets[name] ??= readSet(file, name);
    return sets[name][(time === null ? 0 : time * cells) + cell];
  };
  let compared = 0;
  for (const time of times) {
    await setSlider(page, time);
    for (const [u, v] of places) {
      const box = await page.locator('canvas.section').nth(canvas).boundingBox();
      await page.mouse.move(box.x + u * box.width, box.y + v * box.height);
      await settled(page);
      const seen = await readout(page), at = revolved ? [seen.at.r, 0.5, seen.at.z] : [seen.at.x, seen.at.y, seen.at.z];
      const along = at.map((x, a) => cellAlong(edges[a], x));
      if (along.some((c) => c.i < 0 || c.inside < 6e-4)) continue; // the place is told to a tenth of a millimetre or so
      const cell = (along[2].i * num[1] + along[1].i) * num[0] + along[0].i, side = seen.part.startsWith('water') ? 'water' : 'rest';
      for (const [name, text] of Object.entries(seen.values)) {
        const what = `${name} at ${seen.place}, time ${time}`;
        if (name === 'temperature') sameToFourDigits(text, value(`/fields/${side}/temperature`, cell, time), what);
        else if (name === 'liquid_fraction') sameToFourDigits(text, 100 * value(`/fields/${side}/liquid_fraction`, cell, time), what);
        else if (name === 'freeze_time') sameToFourDigits(text, value('/maps/freeze_time', cell, null) / 3600, what);
        else if (name === 'front_speed') sameToFourDigits(text, 3.6e6 * value('/maps/front_speed', cell, null), what);
        else continue;
        compared++;
      }
    }
  }
  return compared;
}

const tests = {
  async 'a page of a run in (r, z) answers, and reads out what fields.h5 holds'() {
    const dir = run(join(cases, 'harbour-lantern', 'case.yaml'), 'lantern'), file = join(dir, 'report.html');
    assert.ok(statSync(file).size < 5e6, 'a typical page is below 5 MB');
    const page = await open(file, { width: 1280, height: 1000 });
    const summary = JSON.parse(readFileSync(join(dir, 'summary.json'), 'utf8'));
    const words = await page.locator('#answers').textContent(), hours = Math.floor(summary.freeze.time_s / 3600);
    assert.match(words, new RegExp(`Frozen solid after ${hours}\u00a0h`));
    assert.match(words, /The last water sits at/);
    assert.match(words, /soft enough to draw the mould freely/);
    assert.match(words, /The largest cost is cooling and freezing the water/);
    assert.match(words, /Not asked for in this run/); // nothing is said of clear ice that the summary does not hold
    assert.match(await page.locator('#cautions').textContent(), /licensed practice come first/);
    await page.screenshot({ path: join(out, 'lantern_1280.png'), fullPage: true });
    await page.locator('#viewer').scrollIntoViewIfNeeded();
    const places = [[0.5, 0.45], [0.42, 0.3], [0.6, 0.62], [0.36, 0.5], [0.2, 0.4], [0.55, 0.9], [0.08, 0.3], [0.93, 0.6]];
    assert.ok(await pointerReadsTheFile(page, dir, 0, places, [1, 9, 30]) >= 40, 'enough places were compared');
    await accessible(page, 'the page in light');
    await page.getByRole('button', { name: 'Dark' }).click();
    await settled(page);
    await accessible(page, 'the page in dark');
    await page.screenshot({ path: join(out, 'lantern_dark.png'), fullPage: true });
    await close(page, file);
  },

  async 'the switch of units, the keyboard and the maps work'() {
    const file = join(out, 'lantern', 'report.html'), page = await open(file, { width: 1280, height: 1000 });
    await page.locator('canvas.section').first().focus();
    for (const key of ['ArrowDown', 'ArrowDown', 'ArrowDown', 'ArrowRight']) await page.keyboard.press(key);
    await settled(page);
    const metric = await readout(page);
    await page.getByRole('button', { name: 'US' }).click();
    await settled(page);
    const us = await readout(page);
    sameToFourDigits(us.values.temperature, 32 + 1.8 * plain(metric.values.temperature), 'degrees Fahrenheit');
    assert.match(us.values.temperature, /\u00b0F$/);
    sameToFourDigits(us.values.front_speed, plain(metric.values.front_speed) / 25.4, 'inches an hour');
    assert.match(us.values.front_speed, /in\/h$/);
    assert.match(await page.locator('#answers').textContent(), /lb/);
    const before = await page.locator('#clock').textContent();
    await page.locator('#time').focus();
    await page.keyboard.press('ArrowRight');
    await settled(page);
    assert.notEqual(await page.locator('#clock').textContent(), before);
    for (const map of await page.locator('#map option').allTextContents()) { // every map draws, and differs from the first
      await page.locator('#map').selectOption({ label: map });
      await settled(page);
      await page.locator('#viewer').screenshot({ path: join(out, `map_${map.replace(/\W+/g, '_')}.png`) });
    }
    await close(page, file);
  },

  async 'the clock, the curves and the slider tell one moment'() {
    const dir = join(out, 'lantern'), file = join(dir, 'report.html'), page = await open(file, { width: 1280, height: 1000 });
    const times = readSet(join(dir, 'fields.h5'), '/time'), t = readSet(join(dir, 'fields.h5'), '/series/time');
    const share = readSet(join(dir, 'fields.h5'), '/series/water.frozen_share'), coolant = readSet(join(dir, 'fields.h5'), '/series/coolant.temperature');
    const at = (column, time) => { const k = Math.max(0, t.findIndex((v) => v >= time)), i = Math.max(1, k); return column[i - 1] + (column[i] - column[i - 1]) * (time - t[i - 1]) / (t[i] - t[i - 1]); };
    for (const index of [3, 12, 25]) {
      await setSlider(page, index);
      const hours = Math.round(times[index] / 60);
      assert.ok((await page.locator('#clock').textContent()).startsWith(`${Math.floor(hours / 60)}\u00a0h\u00a0${hours % 60}\u00a0min`));
      assert.ok(Math.abs(plain((await page.locator('#clock').textContent()).match(/water ([\d.]+)/)[1]) - 100 * at(share, times[index])) < 0.051);
      const told = await page.locator('.legend li', { hasText: 'coolant' }).first().locator('.figure').textContent();
      assert.ok(Math.abs(plain(told) - at(coolant, times[index])) < 0.051, `coolant ${told}`);
    }
    await close(page, file);
  },

  async 'a telephone held upright sees all of it'() {
    const file = join(out, 'lantern', 'report.html'), page = await open(file, { width: 390, height: 800 });
    await noSideways(page);
    await accessible(page, 'the page on a telephone');
    await page.screenshot({ path: join(out, 'lantern_390.png'), fullPage: true });
    await close(page, file);
  },

  async 'it prints'() {
    const file = join(out, 'lantern', 'report.html'), page = await open(file, { width: 1280, height: 1000 });
    const sheet = await page.pdf({ path: join(out, 'lantern_printed.pdf'), format: 'A4' });
    assert.ok(sheet.length > 100000);
    await page.close();
  },

  async 'what a summary lacks is lacking on the page'() {
    const dir = join(out, 'bare');
    rmSync(dir, { recursive: true, force: true });
    cpSync(join(out, 'lantern'), dir, { recursive: true });
    const summary = JSON.parse(readFileSync(join(dir, 'summary.json'), 'utf8'));
    for (const key of ['plant', 'ledger', 'baths', 'bath', 'pockets']) delete summary[key];
    for (const b of summary.bodies) { delete b.last_liquid; delete b.mass_kg; delete b.level_rise_m; b.freeze = { complete: false, fraction: 0.8125 }; }
    summary.thaw = { glow_J: 7.2e6, note: 'a key that no page knows' };
    writeFileSync(join(dir, 'summary.json'), JSON.stringify(summary));
    execFileSync(program, ['report', dir, '--quiet']);
    const file = join(dir, 'report.html'), page = await open(file, { width: 1280, height: 1000 });
    const words = await page.locator('#answers').textContent();
    assert.match(words, /Not frozen solid in the time given: 81\.3/);
    assert.match(words, /No plant in this run/);
    assert.match(words, /This summary holds no heat ledger/);
    assert.doesNotMatch(words, /kWh|kg|NaN|undefined|null|last water sits|draw the mould freely/);
    assert.match(await page.locator('#tables').textContent(), /glow.*2\.000\u00a0kWh/); // a new key shows up by itself
    await close(page, file);
  },

  async 'a page of a run in (x, y, z) cuts, turns and reads out'() {
    const dir = run(join(data, 'brick.yaml'), 'brick'), file = join(dir, 'report.html');
    const page = await open(file, { width: 1280, height: 1000 });
    await page.locator('#viewer').scrollIntoViewIfNeeded();
    assert.equal(await page.locator('canvas.section').count(), 4);
    const picture = () => page.locator('canvas.solid').evaluate((c) => c.toDataURL());
    await setSlider(page, 2);
    const early = await picture();
    await setSlider(page, 5);
    assert.notEqual(await picture(), early, 'the remaining water changes with the moment');
    const side = () => page.locator('canvas.section').nth(1).evaluate((c) => c.toDataURL());
    const middle = await side();
    await page.getByLabel('Plane at x').evaluate((e) => { e.value = String(Number(e.min) + 0.2 * (Number(e.max) - Number(e.min))); e.dispatchEvent(new Event('input')); });
    await settled(page);
    assert.notEqual(await side(), middle, 'the plane across moves');
    await page.getByLabel('Plane at y').evaluate((e) => { e.value = '0.0083'; e.dispatchEvent(new Event('input')); }); // inside a cell
    await settled(page);
    assert.ok(await pointerReadsTheFile(page, dir, 0, [[0.4, 0.5], [0.6, 0.7], [0.3, 0.6], [0.07, 0.6]], [1, 4]) >= 10, 'enough places were compared');
    await page.locator('canvas.solid').focus();
    await page.keyboard.press('ArrowRight');
    await accessible(page, 'the page of three dimensions');
    await page.screenshot({ path: join(out, 'brick_1280.png'), fullPage: true });
    await close(page, file);
    const phone = await open(file, { width: 390, height: 800 });
    await noSideways(phone);
    await phone.screenshot({ path: join(out, 'brick_390.png'), fullPage: true });
    await close(phone, file);
  },

  async 'runs stand side by side on one page'() {
    const other = run(join(cases, 'harbour-lantern', 'case.yaml'), 'warmer', '--set', 'plant.thermostat.set_point=-12 C');
    const table = execFileSync(program, ['compare', join(out, 'lantern'), other, '-o', join(out, 'compared')], { encoding: 'utf8' });
    assert.match(table, /plant\.thermostat\.set_point +-16 C +-12 C/);
    assert.match(table, /freeze\.time_s/);
    const file = join(out, 'compared', 'compare.html'), page = await open(file, { width: 1280, height: 1000 });
    assert.match(await page.locator('#inputs').textContent(), /plant\.thermostat\.set_point.*-16 C.*-12 C/);
    assert.match(await page.locator('#outcomes').textContent(), /freeze time/);
    const sizes = await page.locator('canvas.section').evaluateAll((all) => all.map((c) => `${c.width} x ${c.height}`));
    assert.equal(sizes.length, 2);
    assert.equal(sizes[0], sizes[1], 'the same scale');
    await accessible(page, 'the page of two runs');
    await page.screenshot({ path: join(out, 'compared_1280.png'), fullPage: true });
    await close(page, file);
  },
};

mkdirSync(out, { recursive: true });
browser = await chromium.launch({ executablePath: BROWSER, args: ['--no-sandbox'] });
let failed = 0;
for (const [name, test] of Object.entries(tests)) {
  const begun = Date.now();
  try {
    await test();
    console.log(`ok      ${name} (${Date.now() - begun} ms)`);
  } catch (e) {
    failed++;
    console.log(`FAILED  ${name}\n${e.stack}`);
  }
}
await browser.close();
console.log(`${Object.keys(tests).length} tests, ${failed} failed`);
process.exit(failed ? 1 : 0);
