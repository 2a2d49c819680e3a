// Writes the JSON Schemas that the editor completes machine.jsonc and take.jsonc from: npm run schemas.
import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { build } from 'esbuild';
import { format, resolveConfig } from 'prettier';

process.chdir(new URL('../..', import.meta.url).pathname);
const bundle = 'dist/json-schema.mjs';
mkdirSync('dist', { recursive: true });
await build({
  entryPoints: ['extension/schemas/json-schema.ts'],
  outfile: bundle,
  bundle: true,
  format: 'esm',
  platform: 'node',
  mainFields: ['module', 'main'],
  logLevel: 'warning',
});
const { machineJsonSchema, takeJsonSchema } = await import(pathToFileURL(bundle).href);
for (const [name, schema] of [
  ['machine', machineJsonSchema()],
  ['take', takeJsonSchema()],
]) {
  const file = `extension/schemas/${name}.schema.json`;
  writeFileSync(
    file,
    await format(JSON.stringify(schema), { ...(await resolveConfig(file)), filepath: file }),
  );
}
rmSync(bundle);
