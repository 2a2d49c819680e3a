/** What the other tunes' takes say of a movement of one tune's pins, in words. */
import { grouped } from '../numbers/grouped.ts';
import { signedMs } from '../words/names.ts';
import type { Belief } from './belief.ts';
import { changesAcross, isOther, isStill } from './change-across.ts';
import { spanInTune } from './moved-pins.ts';
import type { Upheld } from './supposition.ts';

/**
 * What a movement of one tune's pins cannot be, where another tune's takes rule it out; where those moved otherwise over the same takes, by how
 * much.
 */
export function stillWords(belief: Belief, one: Upheld): string {
  const { channels, barrel } = belief.machine.description;
  const span = spanInTune(belief.rounds, one);
  const moved = channels.flatMap(({ id }, c) =>
    barrel.sectors.some((_, s) => one.moves(c, s, one.tune)) ? [{ id, c }] : [],
  );
  if (moved.length === 0 || span === null) return '';
  const others = moved.map(({ id, c }) => ({
    id,
    changes: changesAcross(belief, c, span, one).filter(
      ({ tune, sector }) => tune !== one.tune && one.moves(c, sector, one.tune),
    ),
  }));
  const beside = others.flatMap(({ id, changes }) =>
    [
      ...grouped(
        changes.filter((change) => isOther(change)),
        ({ tune }) => tune,
      ),
    ].map(([tune, own]) => {
      const most = own.reduce((x, y) => (Math.abs(y.ms) > Math.abs(x.ms) ? y : x));
      return `${id} of ${tune} in sector ${barrel.sectors[most.sector].id} by ${signedMs(most.ms, 1)} ms`;
    }),
  );
  if (beside.length > 0)
    return `; over the same takes ${beside.join(' and ')}, so that they do not tell what did it`;
  const isStillAll = others.every(
    ({ changes }) => changes.length > 0 && changes.every((change) => isStill(change, one.size)),
  );
  if (!isStillAll) return '';
  const tunes = [...new Set(others.flatMap(({ changes }) => changes.map(({ tune }) => tune)))];
  const names = moved.map(({ id, c }) => {
    const sectors = barrel.sectors.flatMap((sector, s) => (one.moves(c, s, one.tune) ? [sector.id] : []));
    return sectors.length === barrel.sectors.length ? id : `${id} in sector ${sectors.join(', ')}`;
  });
  return `; no adjuster did it, since ${names.join(', ')} of ${tunes.join(' and ')} stood still, before and after`;
}
