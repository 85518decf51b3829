// Starts Debian's Chromium and opens pages in it, writing down everything a quiet offline page must not do.

import { chromium } from 'playwright-core';

// The sandbox needs rights that root in a container does not have. The rest keeps Chromium from talking to
// anybody on its own account.
const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export async function launch() {
  return chromium.launch({
    executablePath: process.env.CHROMIUM || '/usr/bin/chromium',
    args: FLAGS,
  });
}

/**
 * Opens a page by itself, and hands back with it the list of its offences: console errors and warnings, script
 * errors, requests that are not for files on disk, files that are not there.
 *
 * `look` is playwright's context options, such as `{ colorScheme: 'dark' }`.
 */
export async function open(browser, url, look = {}) {
  const context = await browser.newContext(look);
  const page = await context.newPage();
  const offences = [];
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') {
      offences.push(`console ${message.type()}: ${message.text()}`);
    }
  });
  page.on('pageerror', (error) => offences.push(`script error: ${error.message}`));
  page.on('websocket', (socket) => offences.push(`web socket: ${socket.url()}`));
  page.on('request', (request) => {
    // data: carries its content in itself; nothing is fetched.
    if (!/^(file|data):/.test(request.url())) offences.push(`network request: ${request.url()}`);
  });
  page.on('requestfailed', (request) => {
    if (request.url().startsWith('file:')) offences.push(`missing file: ${request.url()}`);
  });
  await page.goto(url, { waitUntil: 'load' });
  return { page, offences, close: () => context.close() };
}
