// Collects the sentences of the editor's host for translators: npm run l10n. A translation is a file beside it, bundle.l10n.de.json.
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { getL10nJson } from '@vscode/l10n-dev';

process.chdir(new URL('../..', import.meta.url).pathname);
const folder = 'extension/host';
const files = readdirSync(folder).filter((name) => name.endsWith('.ts'));
const sources = files.map((name) => ({
  extension: '.ts',
  contents: readFileSync(join(folder, name), 'utf8'),
}));
const sentences = await getL10nJson(sources);
const sorted = Object.fromEntries(Object.entries(sentences).sort(([a], [b]) => (a < b ? -1 : 1)));
writeFileSync('extension/l10n/bundle.l10n.json', `${JSON.stringify(sorted, null, 2)}\n`);
