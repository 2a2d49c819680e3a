// The extension's folder as the editor gets it: built files, manifest and what the manifest names; nothing of development.
import { cpSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';

/** What the editor never asks for; every other key of package.json is the extension's manifest. */
const ofDevelopment = ['bin', 'scripts', 'dependencies', 'devDependencies', 'private', 'type'];
/** Built files that the editor loads; `worker.js` loads its parts. */
const entries = [
  'host.cjs',
  'host-first.cjs',
  'host-rest.cjs',
  'web.js',
  'worker-web.js',
  'worker.js',
  'view.js',
  'view-style.css',
  'highs.wasm',
];

/**
 * @param staged a folder, made anew; the current one is the project's
 * @returns the manifest
 */
export function stage(staged) {
  rmSync(staged, { recursive: true, force: true });
  const copy = (from, to = from) => {
    mkdirSync(dirname(join(staged, to)), { recursive: true });
    cpSync(from, join(staged, to));
  };
  const manifest = JSON.parse(readFileSync('package.json', 'utf8'));
  for (const key of ofDevelopment) delete manifest[key];
  manifest.engines = { vscode: manifest.engines.vscode };
  manifest.files = ['**'];
  mkdirSync(join(staged, 'dist'), { recursive: true });
  writeFileSync(join(staged, 'package.json'), JSON.stringify(manifest, null, 2));
  // For Node's thread; in the manifest itself it would keep the web extension host from loading anything.
  writeFileSync(join(staged, 'dist/package.json'), '{ "type": "module" }\n');
  copy('package.nls.json');
  copy('extension/README.md', 'README.md');
  copy('extension/CHANGELOG.md', 'CHANGELOG.md');
  // Beside README.md, as in the project, so that its links hold in both places.
  for (const page of readdirSync('extension/guide')) copy(`extension/guide/${page}`, `guide/${page}`);
  copy('extension/LICENSE', 'LICENSE.txt');
  for (const name of ['machine.schema.json', 'take.schema.json']) copy(`extension/schemas/${name}`);
  for (const step of manifest.contributes.walkthroughs[0].steps) copy(step.media.markdown);
  copy('extension/l10n/bundle.l10n.json');
  for (const name of reachable(entries)) copy(`dist/${name}`);
  return manifest;
}

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
