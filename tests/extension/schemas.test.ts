/** What is generated and kept in the repository is what the sources now say. */
import { readdirSync, readFileSync } from 'node:fs';
import { getL10nJson } from '@vscode/l10n-dev';
import { describe, expect, it } from 'vitest';
import { commandNames } from '../../extension/host/command-names.ts';
import { machineJsonSchema, takeJsonSchema } from '../../extension/schemas/json-schema.ts';

const json = (file: string): unknown => JSON.parse(readFileSync(file, 'utf8'));

describe('the editor’s schemas are current; npm run schemas writes them', () => {
  it('machine.jsonc', () =>
    expect(json('extension/schemas/machine.schema.json')).toEqual(
      JSON.parse(JSON.stringify(machineJsonSchema())),
    ));
  it('take.jsonc', () =>
    expect(json('extension/schemas/take.schema.json')).toEqual(JSON.parse(JSON.stringify(takeJsonSchema()))));
});

it('the sentences for translators are current; npm run l10n writes them', async () => {
  const files = readdirSync('extension/host').filter((name) => name.endsWith('.ts'));
  const sources = files.map((name) => ({
    extension: '.ts' as const,
    contents: readFileSync(`extension/host/${name}`, 'utf8'),
  }));
  const kept = json('extension/l10n/bundle.l10n.json') as object;
  expect(Object.keys(kept).sort()).toEqual(Object.keys(await getL10nJson(sources)).sort());
});

describe('package.json and package.nls.json', () => {
  const manifest = readFileSync('package.json', 'utf8');
  const asked = [...manifest.matchAll(/"%([\w.]+)%"/g)].map(([, key]) => key);
  const said = json('package.nls.json') as Record<string, string>;
  it('every sentence that the manifest asks for is there, and no other', () =>
    expect(Object.keys(said).sort()).toEqual([...new Set(asked)].sort()));
  it('every command of the manifest is registered, and none in secret but those that carry arguments', () => {
    const declared = [...manifest.matchAll(/"command": "shimwright\.(\w+)"/g)].map(([, id]) => id);
    expect([...new Set(declared)].sort()).toEqual(
      commandNames.filter((id) => !['notePin', 'showFinding'].includes(id)).sort(),
    );
  });
});
