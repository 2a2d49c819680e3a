/** Pages that people read: every link leads to a file and to a heading that are there, in the project and in the package. */
import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path/posix';
import { describe, expect, it } from 'vitest';
import { guidePages } from '../../extension/common/guide-pages.ts';

const guide = readdirSync('extension/guide').map((name) => `extension/guide/${name}`);
const walkthrough = readdirSync('extension/walkthrough').map((name) => `extension/walkthrough/${name}`);
const shipped = ['extension/README.md', 'extension/CHANGELOG.md', ...guide];
const pages = ['README.md', 'DEVELOPERS.md', ...shipped, ...walkthrough];

/** The page without what stands in code, where brackets are no links. */
const proseOf = (path: string) =>
  readFileSync(path, 'utf8')
    .replace(/^```[^]*?^```$/gm, '')
    .replace(/`[^`\n]*`/g, (code) => code.replace(/[[\]()]/g, ''));

const linksOf = (path: string) =>
  Array.from(proseOf(path).matchAll(/\]\(([^)\s]+)\)/g), ([, to]) => to).filter((to) => !/^[a-z]+:/.test(to));

/** A heading's anchor as git hosts and the editor's preview make it: small letters, hyphens for spaces, nothing else. */
const anchorsOf = (path: string) =>
  Array.from(readFileSync(path, 'utf8').matchAll(/^#+ (.+)$/gm), ([, heading]) =>
    heading
      .toLowerCase()
      .replace(/[^\p{L}\p{N}\s_-]/gu, '')
      .replace(/\s/g, '-'),
  );

describe.each(pages)('%s', (page) => {
  it('has links that lead somewhere', () => {
    const lost = linksOf(page).filter((link) => {
      const [path, anchor] = link.split('#');
      const target = path === '' ? page : join(dirname(page), path);
      if (!existsSync(target)) return true;
      return anchor !== undefined && !(statSync(target).isFile() && anchorsOf(target).includes(anchor));
    });
    expect(lost).toEqual([]);
  });
});

describe('pages that ship with the extension', () => {
  // The package gives README.md and CHANGELOG.md names in small letters, so that nothing may lead to them.
  it('lead to the guide alone', () => {
    const out = shipped.flatMap((page) =>
      linksOf(page)
        .map((link) => link.split('#')[0])
        .filter((path) => path !== '' && !guide.includes(join(dirname(page), path)))
        .map((path) => `${page}: ${path}`),
    );
    expect(out).toEqual([]);
  });
  it('are each led to by README and by the extension’s own', () => {
    for (const from of ['README.md', 'extension/README.md'])
      expect(linksOf(from).map((path) => join(dirname(from), path))).toEqual(expect.arrayContaining(guide));
  });
  it('are each offered by the editor, by their titles', () => {
    const offered = guidePages.map(([name, title]) => [`extension/guide/${name}.md`, `# ${title}`]);
    const titles = guide.map((page) => [page, readFileSync(page, 'utf8').split('\n')[0]]);
    expect(offered.sort()).toEqual(titles.sort());
  });
});

it('what faults call a section of README is one', () => {
  const named = ['extension/cli/advise.ts', 'extension/files/machine-folder.ts'].map(
    (file) => /see "([^"]+)" in the README/.exec(readFileSync(file, 'utf8'))?.[1],
  );
  const headings = Array.from(readFileSync('README.md', 'utf8').matchAll(/^## (.+)$/gm), ([, text]) => text);
  expect(headings).toEqual(expect.arrayContaining(named));
});
