/** JSON Schemas of what people write by hand, made from the schemas that check it, for editors to complete from. */
import { z } from 'zod';
import { machineSchema } from './machine/schema.ts';
import { takeSchema } from './take/schema.ts';

export function machineJsonSchema(): object {
  return z.toJSONSchema(machineSchema, { io: 'input' });
}

export function takeJsonSchema(): object {
  return z.toJSONSchema(takeSchema, { io: 'input' });
}
