/** Everything that is built into the extension and the command may be given away under GPL-3.0-or-later. */
import { existsSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';

interface Locked {
  readonly license?: string;
  readonly dev?: boolean;
}

/** As the FSF's list of licences has them (gnu.org/licenses/license-list.html, from memory): free, and compatible with GPL-3.0. */
const compatible = new Set([
  ...[
    'MIT',
    'ISC',
    'BSD-2-Clause',
    'BSD-3-Clause',
    '0BSD',
    'Zlib',
    'BSL-1.0',
    'Unlicense',
    'CC0-1.0',
    'BlueOak-1.0.0',
  ],
  ...['Apache-2.0', 'Python-2.0', 'MPL-2.0', 'LGPL-2.1-or-later', 'LGPL-3.0-or-later'],
  ...['GPL-2.0-or-later', 'GPL-3.0-only', 'GPL-3.0-or-later'],
]);

/** What a package says in words of its own ("GNU v3"), read as the least that it can mean. */
const means: Readonly<Record<string, string>> = {
  pitchfinder: 'GPL-3.0-only',
};

/**
 * Says "GPL-2.0" of itself, which alone would not do: it is for the library FAAD2 within it, whose own sources are under
 * "version 2 of the License, or (at your option) any later version" (its file COPYING and every source's head, from memory).
 */
const laterToo = new Set(['@audio/decode-aac']);

/** Names and licences of what package-lock.json has installed for running, not for building and testing. */
const packages = Object.entries(
  (JSON.parse(readFileSync('package-lock.json', 'utf8')) as { packages: Record<string, Locked> }).packages,
)
  .filter(([path, { dev }]) => path !== '' && dev !== true)
  .map(([path, { license = '' }]) => ({
    path,
    name: path.replace(/^.*node_modules\//, ''),
    licence: license,
  }));

/** Every part of an "AND", one of an "OR". */
function fits(expression: string): boolean {
  const bare = expression.replace(/^\((.*)\)$/, '$1');
  if (bare.includes(' AND ')) return bare.split(' AND ').every(fits);
  if (bare.includes(' OR ')) return bare.split(' OR ').some(fits);
  return compatible.has(bare);
}

test('every package that is built in has a licence that GPL-3.0-or-later can take in; the list is printed', () => {
  const byLicence = new Map<string, string[]>();
  for (const { name, licence } of packages) byLicence.set(licence, [...(byLicence.get(licence) ?? []), name]);
  console.info(
    [...byLicence]
      .map(([licence, names]) => `${licence || 'none'}: ${names.length} (${names.slice(0, 5).join(', ')} …)`)
      .join('\n'),
  );
  expect(packages.length).toBeGreaterThan(50);
  const misfits = packages.filter(
    ({ name, licence }) => !fits(means[name] ?? licence) && !(licence === 'GPL-2.0' && laterToo.has(name)),
  );
  expect(misfits).toEqual([]);
});

test('what the lock says is what the package says, where it is installed', () => {
  for (const { path, licence } of packages.filter(({ path }) => existsSync(`${path}/package.json`))) {
    const own = JSON.parse(readFileSync(`${path}/package.json`, 'utf8')) as { license?: unknown };
    if (typeof own.license === 'string') expect([path, licence]).toEqual([path, own.license]);
  }
});
