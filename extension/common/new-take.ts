/** What a new take's folder is called and begins with, for the terminal and the editor alike. */
import { localDate } from './work-done.ts';

/** Whether a take’s folder may be called so, on every system. */
export function isTakeName(name: string): boolean {
  return name.trim() !== '' && !name.startsWith('.') && !/[/\\:*?"<>|\u0000-\u001f]/.test(name);
}

/** The name, or where it is taken the first of "name-2", "name-3" … that is not. */
export async function freeName(name: string, isTaken: (name: string) => Promise<boolean>): Promise<string> {
  for (let i = 1; ; i++) {
    const candidate = i === 1 ? name : `${name}-${i}`;
    if (!(await isTaken(candidate))) return candidate;
  }
}

/** What a person said of a take before it was recorded. */
export interface Said {
  /** Beats a minute. */
  readonly tempo?: number | undefined;
  /** Of the motor. */
  readonly setpoint?: number | undefined;
}

/** A first take.jsonc; every key may be left out. @param recorded by the clock of where it was recorded */
export function takeText(recorded: Date, { tempo, setpoint }: Said = {}): string {
  const two = (value: number) => String(value).padStart(2, '0');
  const time = [recorded.getHours(), recorded.getMinutes(), recorded.getSeconds()].map(two).join(':');
  const said = [
    `  "recorded": "${localDate(recorded)}T${time}"`,
    ...(tempo === undefined ? [] : [`  "tempo": ${tempo}`]),
    ...(setpoint === undefined ? [] : [`  "setpoint": ${setpoint}`]),
  ].join(',\n');
  const examples = [
    ...(tempo === undefined ? ['"tempo": 112,'] : []),
    '"tracks": [ { "file": "close.wav", "track": 0, "channels": ["drum"] } ],',
    '"note": "after re-greasing the main bearing"',
  ];
  return `// All of this may be left out; rest the mouse on a key to read what it means.
{
${said}
${examples.map((line) => `  // ${line}`).join('\n')}
}
`;
}
