// Installs the npm packages where they are missing or older than the lock file; silent where nothing is to do.
import { spawnSync } from 'node:child_process';
import { existsSync, statSync } from 'node:fs';

export function ensureInstalled() {
  const marker = 'node_modules/.package-lock.json';
  if (existsSync(marker) && statSync(marker).mtimeMs >= statSync('package-lock.json').mtimeMs - 1000) return;
  console.log('installing the packages that package-lock.json names …');
  const { status } = spawnSync('npm', ['ci', '--no-audit', '--no-fund'], { stdio: 'inherit' });
  if (status !== 0) {
    console.error(
      'npm ci failed; see above. Check the network connection and Node (20 or newer), then try again',
    );
    process.exit(1);
  }
}
