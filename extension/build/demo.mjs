// npm run demo: on a machine with only Node, from nothing to a report to look at. It may be run again at any time.
import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { ensureInstalled } from './ensure-installed.mjs';

process.chdir(new URL('../..', import.meta.url).pathname);
const folder = 'demo-machine';

ensureInstalled();
run('extension/build/build.mjs');
if (existsSync(join(folder, 'machine.jsonc')))
  console.log(
    `${folder}/ is there from an earlier run and is measured as it stands; delete it to have it written anew`,
  );
else if (existsSync(folder) && readdirSync(folder).length > 0) {
  console.error(
    `${folder}/ holds files but no machine.jsonc: an earlier run was cut short; delete the folder, then try again`,
  );
  process.exit(2);
} else run('dist/cli.js', 'demo', folder);

const takes = join(folder, 'takes');
const names = readdirSync(takes).sort();
for (const name of names) {
  console.log(`\n== ${name}`);
  run('dist/cli.js', 'analyze', join(takes, name));
}
console.log(`\n== advice from all takes\n`);
run('dist/cli.js', 'advise', folder);
console.log(
  `\nThe newest report is ${join(takes, names.at(-1), 'report.md')}, its picture report.svg beside it.`,
);

function run(...args) {
  const { status } = spawnSync(process.execPath, args, { stdio: 'inherit' });
  if (status !== 0) process.exit(status ?? 1);
}
