// What every page must be. Each check returns the list of what is wrong, one line each; an empty list is good.

import fs from 'node:fs';
import { createRequire } from 'node:module';
import { fileURLToPath } from 'node:url';

const axeSource = fs.readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** Language, title, one main heading, and the landmarks by which a screen reader moves. */
export async function structure(page) {
  return page.evaluate(() => {
    const wrong = [];
    const count = (selector) => document.querySelectorAll(selector).length;
    if (!document.documentElement.lang) wrong.push('no language on <html>');
    if (!document.title.trim()) wrong.push('no title');
    if (count('h1') !== 1) wrong.push(`${count('h1')} <h1>, want one`);
    if (count('main, [role=main]') !== 1) wrong.push(`${count('main, [role=main]')} main landmarks, want one`);
    if (count('nav, [role=navigation]') === 0) wrong.push('no navigation landmark');
    if (count('body > header, [role=banner]') === 0) wrong.push('no banner landmark (<header> of the page)');
    const levels = [...document.querySelectorAll('h1, h2, h3, h4, h5, h6')].map((h) => Number(h.tagName[1]));
    levels.forEach((level, i) => {
      if (i > 0 && level > levels[i - 1] + 1) wrong.push(`heading ${i + 1} jumps from h${levels[i - 1]} to h${level}`);
    });
    const seen = new Set();
    for (const { id } of document.querySelectorAll('[id]')) {
      if (seen.has(id)) wrong.push(`id \`${id}\` twice`);
      seen.add(id);
    }
    return wrong;
  });
}

/** Every picture says in words what it shows, or that it shows nothing. */
export async function pictures(page) {
  return page.evaluate(() => {
    const wrong = [];
    const hidden = (element) => element.closest('[aria-hidden=true]') !== null;
    for (const img of document.querySelectorAll('img')) {
      if (!img.hasAttribute('alt') && !hidden(img)) wrong.push(`<img src=${img.getAttribute('src')}> without alt`);
    }
    for (const svg of document.querySelectorAll('svg')) {
      if (hidden(svg) || svg.parentElement.closest('svg')) continue;
      const labelled = (svg.getAttribute('aria-labelledby') ?? '')
        .split(/\s+/)
        .map((id) => (id && document.getElementById(id)?.textContent) || '')
        .join(' ');
      const name =
        svg.getAttribute('aria-label') || labelled.trim() || svg.querySelector(':scope > title')?.textContent || '';
      if (svg.getAttribute('role') !== 'img') wrong.push(`<svg> without role="img" and not hidden: ${name}`);
      if (!name.trim()) wrong.push(`<svg> without a name: ${svg.outerHTML.slice(0, 80)}`);
    }
    return wrong;
  });
}

/** Every link that stays in the folder leads to a file, and to a place in it. */
export async function links(page) {
  const hrefs = await page.$$eval('a[href]', (as) => as.map((a) => [a.getAttribute('href'), a.href]));
  const wrong = [];
  for (const [written, absolute] of hrefs) {
    const url = new URL(absolute);
    if (url.protocol !== 'file:') continue;
    const file = fileURLToPath(new URL(url.pathname, 'file:'));
    if (!fs.existsSync(file) || !fs.statSync(file).isFile()) {
      wrong.push(`link to \`${written}\`: no such file`);
    } else if (url.hash && /\.html$/.test(file)) {
      const id = decodeURIComponent(url.hash.slice(1));
      const ids = [...fs.readFileSync(file, 'utf8').matchAll(/\sid="?([^"\s>]+)/g)].map((match) => match[1]);
      if (!ids.includes(id)) wrong.push(`link to \`${written}\`: no such place`);
    }
  }
  return wrong;
}

/**
 * Folds open and closed: by click, by Enter and by Space, on the first, middle and last of those that can be
 * reached at once.
 */
export async function folds(page) {
  const wrong = [];
  const outer = page.locator('details:not(details details) > summary');
  const all = await outer.count();
  for (const index of [...new Set([0, Math.floor(all / 2), all - 1])].filter((i) => i >= 0 && i < all)) {
    const summary = outer.nth(index);
    const isOpen = () => summary.evaluate((s) => s.parentElement.open);
    const label = (await summary.innerText()).trim().slice(0, 40);
    if (!label) wrong.push(`fold ${index} has no label`);
    const ways = {
      click: () => summary.click(),
      Enter: () => summary.press('Enter'),
      Space: () => summary.press('Space'),
    };
    for (const [way, act] of Object.entries(ways)) {
      const before = await isOpen();
      await act();
      if ((await isOpen()) === before) wrong.push(`fold \`${label}\`: ${way} does not turn it`);
      const body = await summary.evaluate((s) => {
        const inside = [...s.parentElement.children].filter((child) => child !== s);
        return { open: s.parentElement.open, height: Math.max(0, ...inside.map((c) => c.getBoundingClientRect().height)) };
      });
      if (body.open && body.height === 0) wrong.push(`fold \`${label}\`: open by ${way}, and nothing to be seen`);
      await act();
      if ((await isOpen()) !== before) wrong.push(`fold \`${label}\`: ${way} does not turn it back`);
    }
  }
  return wrong;
}

/** The page itself never scrolls sideways; a wide table may, in a box of its own. */
export async function fitsWidth(page) {
  return page.evaluate(() => {
    const { scrollWidth, clientWidth } = document.documentElement;
    if (scrollWidth <= clientWidth) return [];
    const scrollsByItself = (element) => {
      for (let box = element.parentElement; box && box !== document.body; box = box.parentElement) {
        if (getComputedStyle(box).overflowX !== 'visible') return true;
      }
      return false;
    };
    const culprits = [...document.body.querySelectorAll('*')]
      .filter((element) => element.getBoundingClientRect().right > clientWidth + 1 && !scrollsByItself(element))
      .slice(0, 3)
      .map((element) => element.outerHTML.slice(0, 80));
    return [`page is ${scrollWidth} px wide in a window of ${clientWidth} px: ${culprits.join(' … ')}`];
  });
}

/** axe-core's judgement, serious and critical violations only. Every fold is opened first. */
export async function accessibility(page) {
  await page.evaluate(() => document.querySelectorAll('details').forEach((fold) => (fold.open = true)));
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(axeSource);
  const violations = await page.evaluate(
    async () => (await window.axe.run(document, { preload: false, resultTypes: ['violations'] })).violations,
  );
  return violations
    .filter(({ impact }) => impact === 'serious' || impact === 'critical')
    .map(({ id, help, nodes }) => `${id}: ${help} (${nodes.length} places, first ${nodes[0].html.slice(0, 120)})`);
}

/** Prints to PDF; too few sheets are wrong. */
export async function prints(page, atLeast) {
  const pdf = await page.pdf({ format: 'A4', printBackground: true });
  const sheets = pdf.toString('latin1').match(/\/Type\s*\/Page\b/g)?.length ?? 0;
  return sheets >= atLeast ? [] : [`prints on ${sheets} sheets, want at least ${atLeast}`];
}

/** Brightness of the page's ground: 0 black, 255 white. */
export async function ground(page) {
  return page.evaluate(() => {
    for (const element of [document.body, document.documentElement]) {
      const pixel = document.createElement('canvas').getContext('2d', { willReadFrequently: true });
      pixel.fillStyle = getComputedStyle(element).backgroundColor;
      pixel.fillRect(0, 0, 1, 1);
      const [r, g, b, alpha] = pixel.getImageData(0, 0, 1, 1).data;
      if (alpha > 0) return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    }
    return 255;
  });
}
