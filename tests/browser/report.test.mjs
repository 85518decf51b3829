// The report of the built-in example, as a person meets it: opened from disk, read, unfolded, printed.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { after, before, describe, test } from 'node:test';
import { fileURLToPath, pathToFileURL } from 'node:url';

import { launch, open } from './browser.mjs';
import * as checks from './checks.mjs';

const root = fileURLToPath(new URL('../..', import.meta.url));
const screenshots = path.join(root, 'target', 'screenshots');

function firstspin(...args) {
  const cargo = ['run', '-q', '--release', '--bin', 'firstspin', '--'];
  const done = spawnSync('cargo', [...cargo, ...args], { cwd: root, encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });
  if (done.error) throw done.error;
  return done;
}

describe('report of the built-in example', () => {
  const folder = path.join(fs.mkdtempSync(path.join(os.tmpdir(), 'firstspin-report-')), 'report');
  const index = pathToFileURL(path.join(folder, 'index.html')).href;
  let browser;
  let pages = [];

  before(async () => {
    const made = firstspin('report', '--out', folder);
    // 1: done, and the bench has blockers.
    assert.ok(made.status === 0 || made.status === 1, `exit status ${made.status}\n${made.stderr}`);
    browser = await launch();
    const { page, close } = await open(browser, index);
    const linked = await page.$$eval('nav a[href]', (as) => as.map((a) => a.href.split('#')[0]));
    pages = [...new Set([index, ...linked])].filter((url) => url.startsWith('file:'));
    await close();
  });

  after(async () => {
    await browser?.close();
    fs.rmSync(path.dirname(folder), { recursive: true, force: true });
  });

  /** Runs a check on every page; a page that offends while it is checked fails too. */
  async function onEveryPage(check, look = {}) {
    assert.ok(pages.length > 0, 'no pages');
    const wrong = [];
    for (const url of pages) {
      const { page, offences, close } = await open(browser, url, look);
      const found = await check(page, url);
      wrong.push(...[...found, ...offences].map((line) => `${path.basename(url)}: ${line}`));
      await close();
    }
    assert.deepEqual(wrong, []);
  }

  const nameOf = (url) => path.basename(fileURLToPath(url), '.html');
  const shot = (page, url, look) =>
    page.screenshot({ path: path.join(screenshots, `${nameOf(url)}-${look}.png`), fullPage: true });

  test('the pages stand in the folder, and the navigation leads to all of them from each', async () => {
    const written = fs.readdirSync(folder, { recursive: true }).filter((name) => name.endsWith('.html'));
    const reached = pages.map((url) => path.relative(folder, fileURLToPath(url)));
    assert.deepEqual(reached.sort(), written.sort());
    await onEveryPage(async (page) => {
      const linked = await page.$$eval('nav a[href]', (as) => as.map((a) => a.href.split('#')[0]));
      return pages.filter((url) => !linked.includes(url)).map((url) => `navigation leads not to ${nameOf(url)}`);
    });
  });

  test('every page opens from disk without console error or network request, and says it is the example', () =>
    onEveryPage(async (page) => {
      const text = await page.innerText('body');
      return /built-in example/i.test(text) ? [] : ['does not say that this is the built-in example'];
    }));

  test('landmarks and headings', () => onEveryPage(checks.structure));
  test('pictures have names', () => onEveryPage(checks.pictures));
  test('links lead somewhere', () => onEveryPage(checks.links));

  test('workings fold open and closed by click and by keyboard', async () => {
    let folds = 0;
    await onEveryPage(async (page) => {
      folds += await page.locator('details > summary').count();
      return checks.folds(page);
    });
    assert.ok(folds > 0, 'no page has a working to unfold');
  });

  test('no serious accessibility violation, light', () => onEveryPage(checks.accessibility, { colorScheme: 'light' }));
  test('no serious accessibility violation, dark', () => onEveryPage(checks.accessibility, { colorScheme: 'dark' }));

  test('light and dark follow the reader’s setting', async () => {
    const grounds = {};
    for (const colorScheme of ['light', 'dark']) {
      await onEveryPage(
        async (page, url) => {
          (grounds[url] ??= {})[colorScheme] = await checks.ground(page);
          await shot(page, url, colorScheme);
          return [];
        },
        { colorScheme, viewport: { width: 1280, height: 900 } },
      );
    }
    for (const [url, { light, dark }] of Object.entries(grounds)) {
      assert.ok(light > 128 && dark < 128, `${nameOf(url)}: ground is ${light} light and ${dark} dark of 255`);
    }
  });

  test('at 360 px nothing runs out of the page, folded or unfolded', () =>
    onEveryPage(
      async (page, url) => {
        await shot(page, url, 'narrow');
        const folded = await checks.fitsWidth(page);
        await page.evaluate(() => document.querySelectorAll('details').forEach((fold) => (fold.open = true)));
        return [...folded, ...(await checks.fitsWidth(page))];
      },
      { viewport: { width: 360, height: 740 } },
    ));

  test('prints: the first page on more than one sheet, each page at all', () =>
    onEveryPage((page, url) => checks.prints(page, url === index ? 2 : 1)));

  test('reads and folds without scripts', () => onEveryPage(checks.folds, { javaScriptEnabled: false }));
});
