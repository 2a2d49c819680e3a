// npm run package: the editor's package, without anything of development, and its size.
import { rmSync, statSync } from 'node:fs';
import { createVSIX, listFiles } from '@vscode/vsce';
import { stage } from './stage.mjs';

process.chdir(new URL('../..', import.meta.url).pathname);
const staged = 'dist/package';

/** A package larger than this has something in it that does not belong there. Most of it are decoders of audio. */
const mostBytes = 12e6;

const manifest = stage(staged);
const file = `dist/${manifest.name}-${manifest.version}.vsix`;
await createVSIX({
  cwd: staged,
  packagePath: file,
  dependencies: false,
  allowMissingRepository: true,
  // README's links lead to pages in the package, not to a repository's address.
  rewriteRelativeLinks: false,
});
const names = await listFiles({ cwd: staged, dependencies: false });
rmSync(staged, { recursive: true, force: true });
const { size } = statSync(file);
console.log(`${file}: ${names.length} files, ${(size / 1e6).toFixed(2)} MB`);
const stray = names.filter((name) => /\.(ts|map)$|^(tests|samples|node_modules|analysis)\//.test(name));
if (stray.length > 0) throw new Error(`files of development are in it: ${stray.join(', ')}`);
const absent = ['README.md', 'CHANGELOG.md', 'guide/machine.md'].filter((name) => !names.includes(name));
if (absent.length > 0) throw new Error(`these pages are not in it: ${absent.join(', ')}`);
if (size > mostBytes) throw new Error(`it is larger than ${mostBytes / 1e6} MB`);
