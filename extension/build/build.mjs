// Bundles what people run into dist/. The command starts fast because heavy parts are chunks loaded when needed.
// --minify: as small as it goes, for the editor's package.
import {
  chmodSync,
  copyFileSync,
  mkdirSync,
  readFileSync,
  readdirSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { createRequire } from 'node:module';
import { basename, join } from 'node:path';
import { build } from 'esbuild';

process.chdir(new URL('../..', import.meta.url).pathname);
const { version } = JSON.parse(readFileSync('package.json', 'utf8'));
const outdir = 'dist';
mkdirSync(outdir, { recursive: true });
const minify = process.argv.includes('--minify');
const common = {
  bundle: true,
  minify,
  // An optional decoder of audio-decode that it does not install; a file that needs it is refused by name.
  external: ['@audio/decode-ape', 'vscode'],
  // Some libraries' "main" asks for its files in a way that no bundler can follow.
  mainFields: ['module', 'main'],
  keepNames: true,
  define: { __VERSION__: JSON.stringify(version) },
  logLevel: 'warning',
};

const { metafile } = await build({
  entryPoints: {
    cli: 'extension/cli/main.ts',
    worker: 'extension/work/worker-node.ts',
  },
  ...common,
  outdir,
  splitting: true,
  // All beside each other, so that the solver's wasm is beside whichever part asks for it.
  chunkNames: 'part-[name]-[hash]',
  format: 'esm',
  platform: 'node',
  target: 'node20',
  metafile: true,
  // Libraries in CommonJS ask for Node's own modules with require(), which modules do not have.
  banner: {
    js: "import { createRequire as makeRequire } from 'node:module';\nconst require = makeRequire(import.meta.url);",
  },
});

// The editor asks for CommonJS, in two files: a small one that activates, and the rest, which it loads after that. The
// way in stands before both, so that what activation takes can be measured whole: by the clock, and of the processor, which
// other programs do not lengthen.
const inNode = {
  ...common,
  outdir,
  outExtension: { '.js': '.cjs' },
  format: 'cjs',
  platform: 'node',
  target: 'node20',
};
const restIsApart = {
  name: 'rest-is-apart',
  setup: ({ onResolve }) =>
    onResolve({ filter: /\/later\.ts$/ }, () => ({ path: './host-rest.cjs', external: true })),
};
await build({
  ...inNode,
  entryPoints: { 'host-first': 'extension/host/node.ts' },
  plugins: [restIsApart],
  supported: { 'dynamic-import': false },
});
await build({ ...inNode, entryPoints: { 'host-rest': 'extension/host/later-node.ts' } });
writeFileSync(
  join(outdir, 'host.cjs'),
  `exports.activate = (context) => {
  const startedMs = performance.now();
  const before = process.cpuUsage();
  const exported = require('./host-first.cjs').activate(context);
  const { user, system } = process.cpuUsage(before);
  performance.measure('shimwright.activate', { start: startedMs, detail: { processorMs: (user + system) / 1000 } });
  return exported;
};
`,
);
await build({
  ...common,
  entryPoints: { web: 'extension/host/web.ts' },
  outdir,
  format: 'cjs',
  platform: 'browser',
  mainFields: ['browser', 'module', 'main'],
  target: 'es2022',
});
await build({
  ...common,
  entryPoints: { 'worker-web': 'extension/work/worker-web.ts' },
  // Behind a question whether Node is there.
  external: [...common.external, 'node:*'],
  // The solver works out where its code would lie, although it is handed over; a worker from text lies nowhere.
  define: { ...common.define, 'import.meta.url': '"https://nowhere.invalid/"' },
  outdir,
  format: 'iife',
  platform: 'browser',
  mainFields: ['browser', 'module', 'main'],
  target: 'es2022',
});

// The report page and its style sheet, for a browser's frame.
await build({
  ...common,
  entryPoints: { view: 'extension/view/page.ts', 'view-style': 'extension/view/page.css' },
  outdir,
  entryNames: '[name]',
  format: 'esm',
  platform: 'browser',
  target: 'es2022',
});

const require = createRequire(import.meta.url);
copyFileSync(require.resolve('highs/runtime'), join(outdir, 'highs.wasm'));
chmodSync(join(outdir, 'cli.js'), 0o755);

// Parts of earlier builds go only now: until here an earlier build could still be running.
const current = new Set(Object.keys(metafile.outputs).map((file) => basename(file)));
for (const name of readdirSync(outdir))
  if (name.startsWith('part-') && !current.has(name)) rmSync(join(outdir, name));
console.log(`built ${outdir}/`);
