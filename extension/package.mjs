// npm run package: the editor's package, without anything of development, and its size.
import { cpSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { createVSIX, listFiles } from '@vscode/vsce';

process.chdir(new URL('..', import.meta.url).pathname);
const staged = 'dist/package';

/** What the editor never asks for; every other key of package.json is the extension's manifest. */
const ofDevelopment = ['bin', 'scripts', 'dependencies', 'devDependencies', 'private'];
/** Built files that the editor loads; `worker.js` loads its parts. */
const entries = [
  'host.cjs',
  'web.js',
  'worker-web.js',
  'worker.js',
  'view.js',
  'view-style.css',
  'highs.wasm',
];
/** A package larger than this has something in it that does not belong there. */
const mostBytes = 9e6;

rmSync(staged, { recursive: true, force: true });
const manifest = JSON.parse(readFileSync('package.json', 'utf8'));
for (const key of ofDevelopment) delete manifest[key];
manifest.engines = { vscode: manifest.engines.vscode };
manifest.files = ['**'];
put('package.json', JSON.stringify(manifest, null, 2));
copy('package.nls.json');
copy('extension/README.md', 'README.md');
copy('extension/LICENSE', 'LICENSE.txt');
for (const name of ['machine.schema.json', 'take.schema.json']) copy(`extension/schemas/${name}`);
for (const step of manifest.contributes.walkthroughs[0].steps) copy(step.media.markdown);
copy('extension/l10n/bundle.l10n.json');
for (const name of reachable(entries)) copy(`dist/${name}`);

const file = `dist/${manifest.name}-${manifest.version}.vsix`;
await createVSIX({ cwd: staged, packagePath: file, dependencies: false, allowMissingRepository: true });
const names = await listFiles({ cwd: staged, dependencies: false });
rmSync(staged, { recursive: true, force: true });
const { size } = statSync(file);
console.log(`${file}: ${names.length} files, ${(size / 1e6).toFixed(2)} MB`);
const stray = names.filter((name) => /\.(ts|map)$|^(tests|samples|node_modules|analysis)\//.test(name));
if (stray.length > 0) throw new Error(`files of development are in it: ${stray.join(', ')}`);
if (size > mostBytes) throw new Error(`it is larger than ${mostBytes / 1e6} MB`);

/** Files and the parts that they load, which stand beside them. */
function reachable(names) {
  const found = new Set(names);
  for (const name of found) {
    if (!name.endsWith('.js')) continue;
    const text = readFileSync(join('dist', name), 'utf8');
    for (const [, part] of text.matchAll(/["']\.\/(part-[\w.-]+\.js)["']/g)) found.add(part);
  }
  return found;
}

function copy(from, to = from) {
  mkdirSync(dirname(join(staged, to)), { recursive: true });
  cpSync(from, join(staged, to));
}

function put(name, text) {
  mkdirSync(staged, { recursive: true });
  writeFileSync(join(staged, name), text);
}
