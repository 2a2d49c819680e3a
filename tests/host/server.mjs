// A real VS Code to test in: the server that the npm package code-server carries, in an ignored folder, opened in Chromium.
import { spawn, spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { delimiter, dirname, join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';

/** The newest release of the package that runs on Node 20: the one that all tests run in. */
export const usual = {
  name: 'server',
  packages: ['code-server@4.100.3'],
  natives: ['@vscode/spdlog', 'native-watchdog', '@vscode/deviceid'],
  node: null,
};
/** A newer one, on a Node of its own, whose package has the headers that its natives are built against. */
const itsNode = `node-${process.platform}-${process.arch}`;
export const newest = {
  name: 'newest-server',
  packages: ['code-server@4.139.1', `${itsNode}@24.21.0`],
  natives: ['@vscode/spdlog', '@vscode/native-watchdog', '@vscode/deviceid'],
  node: itsNode,
};
const chromiumPaths = ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'];

/** Where the editor, the built tests and the tests' folders go. */
export const place = '.vscode-test-web';

export function chromium() {
  return chromiumPaths.find((path) => existsSync(path)) ?? null;
}

/** @returns the server's folder and the Node that runs it, or null where it cannot be had; says why */
export function installServer({ name, packages, natives, node } = usual) {
  const root = join(place, name);
  const folder = join(root, 'node_modules/code-server/lib/vscode');
  const ownNode = node && absolute(join(root, 'node_modules', node));
  const [release] = packages;
  const editor = { release, folder, node: ownNode ? join(ownNode, 'bin/node') : 'node' };
  const marker = join(root, 'ready');
  if (existsSync(marker)) {
    linkSearch(folder);
    return editor;
  }
  mkdirSync(root, { recursive: true });
  writeFileSync(join(root, 'package.json'), '{ "private": true }\n');
  const steps = [
    [root, ['install', '--ignore-scripts', '--no-audit', '--no-fund', ...packages]],
    [folder, ['install', '--ignore-scripts', '--omit=dev', '--no-audit', '--no-fund']],
    [folder, ['rebuild', ...natives, ...(ownNode ? [`--nodedir=${ownNode}`] : [])]],
  ];
  for (const [cwd, args] of steps) {
    const { status } = spawnSync('npm', args, { cwd, stdio: ['ignore', 'ignore', 'inherit'] });
    if (status !== 0) {
      console.log(`the editor cannot be had: npm ${args.join(' ')} failed`);
      return null;
    }
  }
  writeFileSync(marker, `${packages.join(' ')}\n`);
  linkSearch(folder);
  return editor;
}

/** ripgrep, in any of the folders that programs are looked for in; null where it is not installed. */
export const ripgrep = () =>
  (process.env.PATH ?? '')
    .split(delimiter)
    .map((each) => join(each, 'rg'))
    .find((path) => existsSync(path)) ?? null;

/** The editor's search is a program of its own, which its package fetches from elsewhere; any ripgrep is the same. */
function linkSearch(folder) {
  const wanted = join(folder, 'node_modules/@vscode/ripgrep/bin/rg');
  const found = ripgrep();
  if (existsSync(wanted) || found === null) return;
  mkdirSync(dirname(wanted), { recursive: true });
  rmSync(wanted, { force: true }); // a link to one that is gone
  symlinkSync(found, wanted);
}

/**
 * Starts the server with a new profile.
 *
 * @param editor from installServer
 * @returns its address and how to stop it
 */
export async function startServer(
  { folder, node },
  { trustPrompts = false, install = [], extensions = [], settings = {} } = {},
) {
  const data = join(place, `profile-${process.pid}-${Date.now()}`);
  const machine = join(data, 'data/Machine');
  mkdirSync(machine, { recursive: true });
  writeFileSync(join(machine, 'settings.json'), JSON.stringify({ ...quiet, ...settings }, null, 2));
  for (const source of extensions) {
    const { publisher, name, version } = JSON.parse(readFileSync(join(source, 'package.json'), 'utf8'));
    cpSync(source, join(data, 'extensions', `${publisher}.${name}-${version}`), { recursive: true });
  }
  for (const vsix of install) {
    const args = ['out/server-main.js', '--install-extension', vsix, '--accept-server-license-terms'];
    const { status } = spawnSync(node, [...args, '--server-data-dir', absolute(data)], {
      cwd: folder,
      stdio: 'inherit',
    });
    if (status !== 0) throw new Error(`the editor refused ${vsix}`);
  }
  const port = await freePort();
  const server = spawn(
    node,
    [
      'out/server-main.js',
      ...['--host', '127.0.0.1', '--port', String(port)],
      ...['--without-connection-token', '--accept-server-license-terms', '--telemetry-level', 'off'],
      ...(trustPrompts ? [] : ['--disable-workspace-trust']),
      ...['--server-data-dir', absolute(data)],
    ],
    {
      cwd: folder,
      stdio: ['ignore', 'pipe', 'pipe'],
      env: { ...process.env, VSCODE_AGENT_FOLDER: absolute(data) },
    },
  );
  let said = '';
  for (const stream of [server.stdout, server.stderr]) stream.on('data', (text) => (said += text));
  for (let tries = 0; ; tries++) {
    const up = await fetch(`http://127.0.0.1:${port}/`).then(
      ({ ok }) => ok,
      () => false,
    );
    if (up) break;
    if (tries > 120 || server.exitCode !== null)
      throw new Error(`the editor's server did not start:\n${said}`);
    await pause(500);
  }
  return {
    port,
    stop: () => {
      server.kill();
      // The editor may still be writing its last words.
      if (!process.env.SHIMWRIGHT_KEEP)
        rmSync(data, { recursive: true, force: true, maxRetries: 20, retryDelay: 250 });
    },
    said: () => said,
    /** Changes settings while the editor runs. */
    set: (more) =>
      writeFileSync(
        join(machine, 'settings.json'),
        JSON.stringify({ ...quiet, ...settings, ...more }, null, 2),
      ),
  };
}

/** Nothing that asks, fetches or reports. */
const quiet = {
  'workbench.startupEditor': 'none',
  'extensions.ignoreRecommendations': true,
  'git.openRepositoryInParentFolders': 'never',
  'git.autofetch': false,
  'telemetry.telemetryLevel': 'off',
  'update.mode': 'none',
};

const absolute = (path) => join(process.cwd(), path);

function freePort() {
  return new Promise((resolve, reject) => {
    const probe = createServer().on('error', reject);
    probe.listen(0, '127.0.0.1', () => {
      const { port } = probe.address();
      probe.close(() => resolve(port));
    });
  });
}

/**
 * The editor's address for a folder on this computer, or for a whole address of another file system.
 *
 * @param payload what the editor is to load besides: see tests/host/run.mjs
 */
export function address(port, folder, payload = []) {
  const query = new URLSearchParams({ folder: absoluteOr(folder) });
  if (payload.length > 0) query.set('payload', JSON.stringify(payload));
  return `http://127.0.0.1:${port}/?${query}`;
}

const absoluteOr = (path) => (/^(\/|[a-z]+:)/.test(path) ? path : absolute(path));

/** Starts Chromium without a window. */
export async function startBrowser() {
  const { chromium: driver } = await import('playwright-core');
  return driver.launch({
    executablePath: chromium(),
    args: [
      ...['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run'],
      ...['--disable-background-networking', '--disable-component-update', '--disable-sync'],
    ],
  });
}
