// The checks themselves, each on a page that passes and on one with a single flaw.

import assert from 'node:assert/strict';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { after, before, test } from 'node:test';
import { pathToFileURL } from 'node:url';

import { launch, open } from './browser.mjs';
import * as checks from './checks.mjs';

const GOOD = `<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>Good</title>
<meta name="viewport" content="width=device-width">
<style>
  :root { color-scheme: light dark } body { background: #fff; color: #111 }
  @media (prefers-color-scheme: dark) { body { background: #111; color: #eee } a { color: #9cf } }
  section { break-after: page }
</style></head><body>
<header><nav aria-label="Pages"><a href="page.html#place">Here</a></nav></header>
<main><h1>Good</h1><section><h2 id="place">One</h2>
<svg role="img" aria-label="a square" width="20" height="20"><rect width="9" height="9"/></svg>
<details><summary>Working</summary><p>1 + 1 = 2</p></details></section><section><h2>Two</h2></section></main>
</body></html>`;

const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'firstspin-checks-'));
let browser;
before(async () => (browser = await launch()));
after(async () => {
  await browser?.close();
  fs.rmSync(folder, { recursive: true, force: true });
});

/** Opens the good page with one piece of it replaced, and judges it. */
async function judge(check, from = '', to = '', look = {}) {
  assert.ok(GOOD.includes(from), `the good page holds no ${from}`);
  const file = path.join(folder, 'page.html');
  fs.writeFileSync(file, GOOD.replace(from, to));
  const { page, offences, close } = await open(browser, pathToFileURL(file).href, look);
  const wrong = await check(page);
  await close();
  return { wrong, offences };
}

const narrow = { viewport: { width: 360, height: 740 } };
const twoSheets = (page) => checks.prints(page, 2);

for (const [name, check, from, to, complaint, look] of [
  ['language', checks.structure, ' lang="en"', '', /no language/],
  ['title', checks.structure, '<title>Good</title>', '', /no title/],
  ['main landmark', checks.structure, '<main>', '<div>', /0 main landmarks/],
  ['navigation', checks.structure, '<nav aria-label="Pages">', '<p>', /no navigation/],
  ['banner', checks.structure, '<header>', '<div>', /no banner/],
  ['heading order', checks.structure, '<h2 id="place">One</h2>', '<h4 id="place">One</h4>', /jumps from h1 to h4/],
  ['id twice', checks.structure, '<section>', '<section id="place">', /`place` twice/],
  ['picture name', checks.pictures, 'aria-label="a square"', '', /without a name/],
  ['picture role', checks.pictures, 'role="img"', '', /without role/],
  ['image text', checks.pictures, '<h2>Two</h2>', '<h2>Two</h2><img src="data:,">', /without alt/],
  ['link to a file', checks.links, 'page.html#place', 'other.html', /no such file/],
  ['link to a place', checks.links, '#place', '#nowhere', /no such place/],
  ['empty fold', checks.folds, '<p>1 + 1 = 2</p>', '', /nothing to be seen/],
  ['stuck fold', checks.folds, '<summary>', '<summary onclick="return false">', /click does not turn it/],
  ['fold without keys', checks.folds, '<summary>', '<summary onkeydown="event.preventDefault()">', /Enter does not turn it/],
  ['width', checks.fitsWidth, '<h2>Two</h2>', '<div style="width:500px">wide</div>', /in a window of 360 px/, narrow],
  ['contrast', checks.accessibility, '<p>1 + 1', '<p style="color:#ccc">1 + 1', /color-contrast/],
  ['print', twoSheets, 'break-after: page', '', /prints on 1 sheets/],
]) {
  test(`${name}: the good page passes, the flaw is found`, async () => {
    assert.deepEqual((await judge(check, '', '', look)).wrong, []);
    const { wrong } = await judge(check, from, to, look);
    assert.match(wrong.join('\n'), complaint);
  });
}

test('a wide table in a box that scrolls by itself is no flaw', async () => {
  const box = '<div style="overflow-x:auto"><div style="width:500px">wide</div></div>';
  assert.deepEqual((await judge(checks.fitsWidth, '<h2>Two</h2>', box, narrow)).wrong, []);
});

for (const [name, piece, complaint] of [
  ['console error', '<script>console.error("oh")</script>', /console error: oh/],
  ['script error', '<script>nothing.here</script>', /script error/],
  ['network request', '<img alt="" src="http://127.0.0.1:9/x.png">', /network request: http:\/\/127/],
  ['missing file', '<img alt="" src="gone.png">', /missing file: .*gone\.png/],
]) {
  test(`${name}: written down`, async () => {
    const nothing = async () => [];
    assert.deepEqual((await judge(nothing)).offences, []);
    assert.match((await judge(nothing, '<h2>Two</h2>', piece)).offences.join('\n'), complaint);
  });
}

test('the ground follows the colour scheme', async () => {
  const light = (await judge(checks.ground, '', '', { colorScheme: 'light' })).wrong;
  const dark = (await judge(checks.ground, '', '', { colorScheme: 'dark' })).wrong;
  assert.ok(light > 250 && dark < 40, `light ${light}, dark ${dark}`);
});
