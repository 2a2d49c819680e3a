/** Says in plain words what a zod check found: which value, what is wrong with it, and what to write instead. */
import { z } from 'zod';
import { insteadOf } from './nearest.ts';

export type Path = readonly (string | number)[];

export interface Fault {
  readonly path: Path;
  readonly what: string;
  readonly mend: string;
  /** The fault lies in the key at the end of the path, not in its value. */
  readonly atKey?: boolean;
  /** There is nothing at the path. */
  readonly absent?: boolean;
}

type Issue = z.core.$ZodIssue;

/** Of one object's unknown keys; the first in the file is told. */
const judgedKeys = 100;

/**
 * @param issues what safeParse found, at least one
 * @param value  the whole value that was checked
 * @param schema what it was checked against; its descriptions become part of the mend
 */
export function faultsOf(issues: readonly Issue[], value: unknown, schema: z.ZodType): Fault[] {
  const shape = z.toJSONSchema(schema, { io: 'input' }) as Shape;
  const faults = issues.flatMap((issue) => explain(issue, value, shape));
  // A misspelt key is unknown and the right one missing: the first says it all.
  const misspelt = faults.filter((fault) => fault.atKey).map((fault) => parentOf(fault.path));
  return faults.filter((fault) => !fault.absent || !misspelt.includes(parentOf(fault.path)));
}

function explain(issue: Issue, whole: unknown, shape: Shape): Fault[] {
  const path = issue.path as Path;
  const value = valueAt(whole, path);
  if (value === undefined) return [missing(path, shape)];
  const purpose = describe(shapeAt(shape, path));
  const fault = (what: string, mend: string): Fault[] => [{ path, what, mend: mend + purpose }];
  switch (issue.code) {
    case 'invalid_type':
      return fault(
        `${show(value)} stands where ${nouns[issue.expected] ?? issue.expected} belongs`,
        retype(issue.expected, value),
      );
    case 'too_small':
      if (issue.origin === 'array' || issue.origin === 'string')
        return fault(issue.origin === 'array' ? 'the list is empty' : 'the text is empty', 'fill it');
      return fault(
        `${show(value)} is too small`,
        `write ${issue.inclusive ? '' : 'more than '}${issue.minimum}${issue.inclusive ? ' or more' : ''}`,
      );
    case 'too_big':
      if (issue.origin === 'array')
        return [{ path, what: 'the list is too long', mend: `write ${issue.maximum} at most` }];
      if (issue.origin === 'string')
        return fault('the text is too long', `write ${issue.maximum} characters at most`);
      return fault(
        `${show(value)} is too large`,
        `write ${issue.inclusive ? `${issue.maximum} or less` : `less than ${issue.maximum}`}`,
      );
    case 'invalid_format':
      return [{ path, what: `${show(value)} cannot be used here`, mend: `write ${issue.message}` }];
    case 'invalid_value':
      return fault(
        `${show(value)} is not known here`,
        insteadOf(typeof value === 'string' ? value : show(value), issue.values.map(String)),
      );
    case 'unrecognized_keys':
      return issue.keys.slice(0, judgedKeys).map((key) => unknownKey(path, key, shape));
    case 'invalid_key':
      return [
        {
          path,
          atKey: true,
          what: `the key ${show(path.at(-1))} cannot be used here`,
          mend: `write ${issue.issues[0].message}`,
        },
      ];
    case 'invalid_union':
      return alternative(issue, whole, shape);
    case 'not_multiple_of':
    case 'invalid_element':
    case 'custom':
      return fault(issue.message, 'correct it');
  }
}

/**
 * Of several allowed forms the one that was probably meant is the one whose keys fit best; where two fit equally the
 * schema's own sentence about the choice is all that can be said.
 */
function alternative(
  issue: Extract<Issue, { code: 'invalid_union' }>,
  whole: unknown,
  shape: Shape,
): Fault[] {
  const path = issue.path as Path;
  const inside = issue.errors.map((errors) =>
    errors.map((error) => ({ ...error, path: [...path, ...error.path] })),
  );
  const misfits = inside.map((errors) => {
    const absent = errors.filter((error) => valueAt(whole, error.path as Path) === undefined);
    const foreign = errors.flatMap((error) => (error.code === 'unrecognized_keys' ? error.keys : []));
    return absent.length + foreign.length;
  });
  const least = Math.min(...misfits);
  const best = inside.filter((_, i) => misfits[i] === least);
  if (best.length === 1) return best[0].flatMap((error) => explain(error, whole, shape));
  return [{ path, what: `${show(valueAt(whole, path))} has none of the known forms`, mend: issue.message }];
}

function missing(path: Path, shape: Shape): Fault {
  return {
    path,
    absent: true,
    what: `"${path.at(-1)}" is missing`,
    mend: `add it${describe(shapeAt(shape, path))}`,
  };
}

function unknownKey(path: Path, key: string, shape: Shape): Fault {
  const names = Object.keys(shapeAt(shape, path)?.properties ?? {}).filter((name) => !name.startsWith('$'));
  return {
    path: [...path, key],
    atKey: true,
    what: `the key "${key}" is not known here`,
    mend: insteadOf(key, names),
  };
}

const nouns: Record<string, string> = {
  int: 'a whole number',
  number: 'a number',
  string: 'text',
  boolean: 'true or false',
  object: 'an object { }',
  record: 'an object { }',
  array: 'a list [ ]',
};

function retype(expected: string, value: unknown): string {
  const numeric = expected === 'number' || expected === 'int';
  if (
    numeric &&
    typeof value === 'string' &&
    value.trim() !== '' &&
    Number.isFinite(Number(value.replace(',', '.')))
  )
    return 'write it without quotes, with a point for decimals';
  if (expected === 'string' && typeof value === 'number') return 'put it in double quotes';
  if (expected === 'array' && typeof value === 'string') return 'put it in brackets [ ]';
  return `write ${nouns[expected] ?? expected}`;
}

/** The part of a JSON Schema that this file reads. */
interface Shape {
  readonly description?: string;
  readonly properties?: Readonly<Record<string, Shape>>;
  readonly additionalProperties?: Shape | boolean;
  readonly items?: Shape;
  readonly anyOf?: readonly Shape[];
}

/** The schema at a path; several allowed forms count as one with the keys of all. */
function shapeAt(root: Shape, path: Path): Shape | undefined {
  let shape: Shape | undefined = root;
  for (const part of path) {
    const further: Shape | boolean | undefined =
      typeof part === 'number'
        ? shape.items
        : (merged(shape).properties?.[part] ?? shape.additionalProperties);
    if (typeof further !== 'object') return undefined;
    shape = further;
  }
  return merged(shape);
}

function merged(shape: Shape): Shape {
  if (!shape.anyOf) return shape;
  return {
    ...shape,
    properties: Object.assign({}, ...shape.anyOf.map((form) => form.properties)) as Shape['properties'],
  };
}

function parentOf(path: Path): string {
  return JSON.stringify(path.slice(0, -1));
}

function describe(shape: Shape | undefined): string {
  return shape?.description ? ` (${shape.description})` : '';
}

function valueAt(whole: unknown, path: Path): unknown {
  return path.reduce<unknown>((value, part) => (value as Record<string, unknown> | undefined)?.[part], whole);
}

/** A value as the file has it, cut where it would fill the line. */
function show(value: unknown): string {
  const text = typeof value === 'number' ? String(value) : JSON.stringify(value);
  return text.length > 40 ? `${text.slice(0, 39)}…` : text;
}
