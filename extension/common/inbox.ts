/** An inbox: a folder that a recorder or a phone writes to. Which of its files are whole, and what a person chose of those offered. */

/** A file as a look into the folder finds it. */
export interface InboxFile {
  /** Within the folder, with "/". */
  readonly name: string;
  readonly sizeBytes: number;
  readonly modifiedMs: number;
}

/** What earlier looks found. */
export interface Looked {
  readonly seen: ReadonlyMap<string, InboxFile & { readonly sameSinceS: number }>;
}

export const nothingLooked: Looked = { seen: new Map() };

/** Between two looks, s. */
export const lookEveryS = 2;
/** A recorder writes its buffers out every few seconds, and a phone sends in pieces. */
const stillS = 10;
/** What was last written so long ago, s, is whole when a second look finds it the same. */
const oldS = 60;

/**
 * @param nowS by a clock that only runs forwards
 * @param wallMs by the clock that files are dated by
 * @returns what was seen, and the files that have stopped growing; each is told at every look
 */
export function look(
  before: Looked,
  files: readonly InboxFile[],
  nowS: number,
  wallMs: number,
): { looked: Looked; whole: readonly InboxFile[] } {
  const seen = new Map<string, InboxFile & { sameSinceS: number }>();
  const whole: InboxFile[] = [];
  for (const file of files) {
    if (isUnderWay(file.name)) continue;
    const last = before.seen.get(file.name);
    const isSame = last?.sizeBytes === file.sizeBytes && last.modifiedMs === file.modifiedMs;
    const sameSinceS = isSame ? last.sameSinceS : nowS;
    seen.set(file.name, { ...file, sameSinceS });
    const isOld = wallMs - file.modifiedMs > 1000 * oldS;
    if (isSame && file.sizeBytes > 0 && nowS - sameSinceS >= (isOld ? lookEveryS / 2 : stillS))
      whole.push(file);
  }
  return { looked: { seen }, whole };
}

/** Whether files are there that may still grow. */
export function isAnyGrowing({ seen }: Looked, whole: readonly InboxFile[]): boolean {
  const names = new Set(whole.map(({ name }) => name));
  return [...seen.values()].some(({ name, sizeBytes }) => sizeBytes > 0 && !names.has(name));
}

/** Names under which programs keep what they have not finished, and hidden ones. */
function isUnderWay(name: string): boolean {
  return /(^|\/)[.~]|\.(part|partial|crdownload|download|tmp|temp|filepart|opdownload)$/i.test(name);
}

/**
 * What a person typed of numbered recordings: "1 3" are two takes, "1+2" is one of two files.
 *
 * @param sure numbers that "y" stands for
 * @returns the numbers of each take; null where it cannot be read
 */
export function choiceIn(answer: string, count: number, sure: readonly number[]): number[][] | null {
  const words = answer
    .trim()
    .toLowerCase()
    .split(/[\s,]+/);
  if (words.length === 1 && ['', 'n', 'no', 'none'].includes(words[0])) return [];
  if (words.length === 1 && ['y', 'yes'].includes(words[0])) return sure.map((number) => [number]);
  const takes: number[][] = [];
  for (const word of words) {
    if (!/^\d+(\+\d+)*$/.test(word)) return null;
    takes.push(word.split('+').map(Number));
  }
  const all = takes.flat();
  const isEachOnce = new Set(all).size === all.length;
  return isEachOnce && all.every((number) => number >= 1 && number <= count) ? takes : null;
}
