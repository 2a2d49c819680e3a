/** Writes the drawing of the rooms anew, between the lines of DEVELOPERS.md that hold it: npm run drawing. */
import { readFileSync, writeFileSync } from 'node:fs';
import { drawing } from './drawing.ts';

const file = 'DEVELOPERS.md';
const text = readFileSync(file, 'utf8');
const held = /```mermaid\n[\s\S]*?\n```/;
if (!held.test(text))
  throw new Error(`${file} has no drawing to write anew: put an empty mermaid block where it goes`);
writeFileSync(
  file,
  text.replace(held, () => drawing()),
);
