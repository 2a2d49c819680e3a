/** What machine.jsonc must hold to that no single field shows: names that meet, orders, ranges. */
import type { Checked, Path, ProblemAt } from '../input/jsonc.ts';
import { insteadOf } from '../input/nearest.ts';
import { dropHeightMm } from './effects.ts';
import type { Adjuster, MachineDescription } from './schema.ts';

/** @throws InputProblem at the first fault, from the top of the schema down */
export function checkTogether({ value: machine, problem }: Checked<MachineDescription>): void {
  const channels = machine.channels.map((channel) => channel.id);
  const sectors = machine.barrel.sectors.map((sector) => sector.id);
  const adjusters = machine.adjusters.map((adjuster) => adjuster.id);

  refuseTwins(sectors, ['barrel', 'sectors'], problem);
  checkSectors(machine.barrel, problem);
  if (machine.patterns === undefined) checkPatternPath(machine.pattern, ['pattern'], problem);
  for (const [name, pattern] of Object.entries(machine.patterns ?? {}))
    checkPatternPath(pattern, ['patterns', name], problem);
  refuseSharedPatterns(machine.patterns ?? {}, problem);
  refuseTwins(channels, ['channels'], problem);
  known(machine.reference, channels, 'channel', ['reference'], problem);
  refuseTwins(adjusters, ['adjusters'], problem);
  const accesses = (machine.access ?? []).map((access) => access.id);
  refuseTwins(accesses, ['access'], problem);
  machine.stock?.forEach(({ unit, mm }, i, stock) => {
    const first = stock.findIndex((other) => other.unit === unit && other.mm === mm);
    if (first < i)
      throw problem(['stock', i, 'mm'], `pieces of ${mm} mm are there twice`, `add them to stock[${first}]`);
  });
  machine.tempi?.forEach((bpm, i, tempi) => {
    if (tempi.indexOf(bpm) < i) throw problem(['tempi', i], `${bpm} is there twice`, 'remove one of the two');
  });
  machine.together?.forEach((set, i) =>
    set.forEach((id, j) => {
      known(id, channels, 'channel', ['together', i, j], problem);
      if (set.indexOf(id) < j)
        throw problem(['together', i, j], `"${id}" is there twice`, 'name two different channels');
    }),
  );
  if (machine.click !== undefined) {
    known(machine.click, channels, 'channel', ['click'], problem);
    if (machine.click === machine.reference)
      throw problem(['click'], 'the reference is a striker, not a click', 'name a channel without pins');
  }
  machine.adjusters.forEach((adjuster, i) => {
    const path = ['adjusters', i];
    adjuster.shifts.sectors?.forEach((id, j) =>
      known(id, sectors, 'sector', [...path, 'shifts', 'sectors', j], problem),
    );
    adjuster.shifts.channels?.forEach((id, j) =>
      known(id, channels, 'channel', [...path, 'shifts', 'channels', j], problem),
    );
    adjuster.alsoShifts?.forEach((entry, e) => {
      entry.sectors?.forEach((id, j) =>
        known(id, sectors, 'sector', [...path, 'alsoShifts', e, 'sectors', j], problem),
      );
      entry.channels?.forEach((id, j) =>
        known(id, channels, 'channel', [...path, 'alsoShifts', e, 'channels', j], problem),
      );
    });
    checkMoves(adjuster, machine, path, problem);
    checkRange(adjuster, path, problem);
    checkDrop(adjuster, path, problem);
    checkLevels(adjuster, machine, problem);
    if (adjuster.access !== undefined)
      known(adjuster.access, accesses, 'access', [...path, 'access'], problem);
    checkStock(adjuster, machine, path, problem);
  });
  machine.limits.forEach((limit, i) => {
    const path = ['limits', i];
    limit.adjusters.forEach((id, j) => known(id, adjusters, 'adjuster', [...path, 'adjusters', j], problem));
    const again = limit.adjusters.findIndex((id, j) => limit.adjusters.indexOf(id) < j);
    if (again !== -1) {
      const twice = `"${limit.adjusters[again]}" is there twice`;
      throw problem([...path, 'adjusters', again], twice, 'keep one of them');
    }
    const { sumMin = -Infinity, sumMax = Infinity } = limit;
    if (limit.sumMin === undefined && limit.sumMax === undefined) {
      throw problem(path, 'this limit bounds nothing', 'give "sumMin", "sumMax" or both');
    }
    if (sumMin > sumMax) {
      throw problem([...path, 'sumMin'], `${sumMin} is more than "sumMax", ${sumMax}`, 'swap them');
    }
  });
  Object.entries(machine.notes ?? {}).forEach(([note, id]) =>
    known(id, channels, 'channel', ['notes', note], problem),
  );
  checkStockUnits(machine, problem);
}

function refuseTwins(ids: readonly string[], path: Path, problem: ProblemAt): void {
  const twin = ids.findIndex((id, i) => ids.indexOf(id) < i);
  if (twin === -1) return;
  const first = [...path, ids.indexOf(ids[twin])];
  throw problem(
    [...path, twin, 'id'],
    `"${ids[twin]}" is taken: ${first[first.length - 2]}[${first.at(-1)}] has it`,
    'give each its own id',
  );
}

function known(id: string, ids: readonly string[], kind: string, path: Path, problem: ProblemAt): void {
  if (!ids.includes(id)) throw problem(path, `there is no ${kind} "${id}"`, insteadOf(id, ids));
}

function checkSectors({ sectors, steps }: MachineDescription['barrel'], problem: ProblemAt): void {
  sectors.forEach(({ from }, i) => {
    const path = ['barrel', 'sectors', i, 'from'];
    if (from >= steps) {
      throw problem(path, `step ${from} is past the last, ${steps - 1}`, 'steps count from 0');
    }
    if (i > 0 && from <= sectors[i - 1].from) {
      const before = sectors[i - 1];
      throw problem(
        path,
        `step ${from} does not come after ${before.from}, where sector "${before.id}" starts`,
        'list the sectors in the order of their first steps',
      );
    }
  });
}

/** A machine that someone sends must not be able to point at files outside its own folder. */
function checkPatternPath(pattern: string, path: Path, problem: ProblemAt): void {
  const parts = pattern.split(/[/\\]/);
  if (parts.includes('..') || parts[0] === '' || pattern.includes(':') || pattern.includes('\0')) {
    throw problem(
      path,
      `${JSON.stringify(pattern)} leads out of the machine's folder`,
      'put the pattern beside this file and give its name alone',
    );
  }
  if (!/\.(csv|midi?)$/i.test(pattern)) {
    throw problem(
      path,
      `${JSON.stringify(pattern)} is neither a .csv nor a .mid file`,
      'export the pattern as one of these',
    );
  }
}

/** Two tunes of the same pins are one. */
function refuseSharedPatterns(patterns: Readonly<Record<string, string>>, problem: ProblemAt): void {
  const tunes = Object.keys(patterns);
  tunes.forEach((name, i) => {
    const first = tunes.findIndex((other) => patterns[other] === patterns[name]);
    if (first < i)
      throw problem(
        ['patterns', name],
        `"${patterns[name]}" is the pattern of "${tunes[first]}" already`,
        'give each tune a pattern of its own',
      );
  });
}

function checkMoves({ shifts }: Adjuster, machine: MachineDescription, path: Path, problem: ProblemAt): void {
  const named = machine.channels.filter((channel) => shifts.channels?.includes(channel.id) ?? true);
  if (!shifts.sectors || named.some((channel) => channel.onBarrel)) return;
  throw problem(
    [...path, 'shifts'],
    'it moves nothing: sectors move only channels that are on the barrel',
    'remove "sectors", or name a channel that is on the barrel',
  );
}

function checkRange({ min, max }: Adjuster, path: Path, problem: ProblemAt): void {
  if (min > max) throw problem([...path, 'min'], `${min} is more than "max", ${max}`, 'swap them');
}

/** Pieces of a unit that nothing is counted in were meant for something else: advice would pass the drawer over. */
function checkStockUnits({ adjusters, stock = [] }: MachineDescription, problem: ProblemAt): void {
  const units = [...new Set(adjusters.flatMap(({ perUnit, unit }) => ('mm' in perUnit ? [unit] : [])))];
  stock.forEach(({ unit }, i) => {
    if (units.length > 0 && !units.includes(unit))
      throw problem(['stock', i], `no adjuster in mm is counted in "${unit}"`, insteadOf(unit, units));
  });
}

/** A stack is built of pieces: it cannot hold fewer than none. What it holds need not agree with "installed": work comes in between. */
function checkStock(
  { id, unit, perUnit, min, installed, stack }: Adjuster,
  { stock = [] }: MachineDescription,
  path: Path,
  problem: ProblemAt,
): void {
  if (stack !== undefined && !('mm' in perUnit))
    throw problem(
      [...path, 'stack'],
      `"${id}" is not counted in mm`,
      'remove "stack", or give "perUnit" in mm',
    );
  const drawn = stock.some((pieces) => pieces.unit === unit);
  if (drawn && 'mm' in perUnit && Math.min(min, installed) < 0)
    throw problem(
      [...path, 'min'],
      `no stack has ${Math.min(min, installed)} pieces`,
      'count settings from 0',
    );
}

/** √(2h/g) has no meaning below nothing, and a striker that falls through nothing does not strike. */
function checkDrop(adjuster: Adjuster, path: Path, problem: ProblemAt): void {
  const { perUnit, min, max, installed } = adjuster;
  if (!('dropMm' in perUnit)) return;
  const settings = { installed, min, max };
  for (const [key, setting] of Object.entries(settings)) {
    const heightMm = dropHeightMm(adjuster, setting);
    if (heightMm > 0) continue;
    throw problem(
      [...path, key],
      `at setting ${setting} the striker has ${heightMm} mm to fall through`,
      'keep the height above 0 mm',
    );
  }
}

/** A level is kept against that of a height: without it each round would start from where the last one left it. */
function checkLevels(
  { id, perUnit, shifts }: Adjuster,
  { channels }: MachineDescription,
  problem: ProblemAt,
): void {
  if (!('dropMm' in perUnit)) return;
  channels.forEach((channel, c) => {
    const { keepLevel } = channel;
    const isMoved = shifts.channels === undefined || shifts.channels.includes(channel.id);
    if (keepLevel === undefined || keepLevel.dropHeightMm !== undefined || !isMoved) return;
    throw problem(
      ['channels', c, 'keepLevel'],
      `"${id}" changes the drop height of "${channel.id}", and which height sounds as meant is not said`,
      `add "dropHeightMm": ${perUnit.dropHeightMm}`,
    );
  });
}
