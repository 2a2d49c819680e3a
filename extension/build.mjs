// Bundles what people run into dist/. The command starts fast because heavy parts are chunks loaded when needed.
import { chmodSync, copyFileSync, mkdirSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { basename, join } from 'node:path';
import { build } from 'esbuild';

process.chdir(new URL('..', import.meta.url).pathname);
const { version } = JSON.parse(readFileSync('package.json', 'utf8'));
const outdir = 'dist';
mkdirSync(outdir, { recursive: true });

const { metafile } = await build({
  entryPoints: { cli: 'extension/cli.ts' },
  outdir,
  bundle: true,
  splitting: true,
  // All beside each other, so that the solver's wasm is beside whichever part asks for it.
  chunkNames: 'part-[name]-[hash]',
  format: 'esm',
  platform: 'node',
  target: 'node20',
  // An optional decoder of audio-decode that it does not install; a file that needs it is refused by name.
  external: ['@audio/decode-ape'],
  // Some libraries' "main" asks for its files in a way that no bundler can follow.
  mainFields: ['module', 'main'],
  keepNames: true,
  metafile: true,
  define: { __VERSION__: JSON.stringify(version) },
  // Libraries in CommonJS ask for Node's own modules with require(), which modules do not have.
  banner: {
    js: "import { createRequire as makeRequire } from 'node:module';\nconst require = makeRequire(import.meta.url);",
  },
  logLevel: 'warning',
});

const require = createRequire(import.meta.url);
copyFileSync(require.resolve('highs/runtime'), join(outdir, 'highs.wasm'));
chmodSync(join(outdir, 'cli.js'), 0o755);

// Parts of earlier builds go only now: until here an earlier build could still be running.
const current = new Set(Object.keys(metafile.outputs).map((file) => basename(file)));
for (const name of readdirSync(outdir))
  if (name.startsWith('part-') && !current.has(name)) rmSync(join(outdir, name));
console.log(`built ${outdir}/`);
