/**
 * JSON Schemas of what people write by hand, made from the schemas that check it, for editors to complete from. Draft 7:
 * the newest that VS Code reads in full.
 */
import { z } from 'zod';
import { machineSchema } from '../../analysis/machine/schema.ts';
import { takeSchema } from '../../analysis/take/schema.ts';

export function machineJsonSchema(): object {
  return z.toJSONSchema(machineSchema, { io: 'input', target: 'draft-7' });
}

export function takeJsonSchema(): object {
  return z.toJSONSchema(takeSchema, { io: 'input', target: 'draft-7' });
}
