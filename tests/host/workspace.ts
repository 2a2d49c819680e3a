/** Makes the folders that the tests in the editor open. Bundled and called by run.mjs. */
import { execFileSync } from 'node:child_process';
import { mkdirSync, writeFileSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { demoFiles } from '../../samples/make.ts';
import { machineText, markers, patternText } from '../cli/small-machine.ts';

function put(root: string, files: Readonly<Record<string, string | Uint8Array>>): void {
  for (const [name, text] of Object.entries(files)) {
    mkdirSync(dirname(join(root, name)), { recursive: true });
    writeFileSync(join(root, name), text);
  }
}

/** One pin of the drum sits a step late: 6 in the pattern, 7 on the barrel. */
function withMisplacedPin(text: string): string {
  return text
    .split('\n')
    .map((line) => {
      const [time, label] = line.split(',');
      const step = Math.round((Number(time) - 0.5) / 0.125) % 16;
      return label === 'drum' && step === 6 ? `${(Number(time) + 0.125).toFixed(7)},drum` : line;
    })
    .join('\n');
}

/** The small machine with two takes of markers, in a git repository with one commit. */
export function makeWorkspace(root: string): void {
  rmSync(root, { recursive: true, force: true });
  put(root, {
    'machine.jsonc': machineText,
    'pattern.csv': patternText,
    'takes/1-march/hits.csv': withMisplacedPin(markers({ drum: 3, sectorB: 2 }, 1)),
    'takes/1-march/take.jsonc': '{ "recorded": "2026-03-01T10:00" }\n',
    'takes/2-april/hits.csv': withMisplacedPin(markers({ drum: 2.6, sectorB: 1.9 }, 2)),
    'takes/2-april/take.jsonc': '{ "recorded": "2026-04-02T10:00" }\n',
    '.gitignore': 'results.*\n',
  });
  const git = (...args: string[]) =>
    execFileSync('git', ['-c', 'user.name=Test', '-c', 'user.email=test@example.invalid', ...args], {
      cwd: root,
      stdio: 'ignore',
    });
  git('init', '--quiet');
  git('add', '.');
  git('commit', '--quiet', '-m', 'The machine as found');
}

/** The demo machine with its first take, in a folder of the workspace. */
export async function addDemo(root: string): Promise<void> {
  for await (const { path, bytes } of demoFiles()) {
    if (path.startsWith('takes/') && !path.startsWith('takes/1-')) break;
    if (/^(machine|pattern|takes)/.test(path)) put(root, { [`demo/${path}`]: bytes });
  }
}
