/** Groups that are left out of a plan so that it can do for the rest, in words. */
import type { Belief } from './belief.ts';
import type { Obstacle } from './reach.ts';
import type { SparingPlan } from './sparing.ts';

/** Groups that no setting reaches without spoiling others, each with what stands in the way. */
export function setAside(belief: Belief, { aside }: SparingPlan, obstacles: readonly Obstacle[]) {
  const { channels, barrel } = belief.machine.description;
  return aside.map((g) => {
    const place = {
      channel: channels[belief.groups[g].channel].id,
      sector: barrel.sectors[belief.groups[g].sector].id,
    };
    const obstacle = obstacles.find(
      ({ channel, sector }) => channel === place.channel && sector === place.sector,
    );
    const message =
      obstacle?.message ??
      `${place.channel} in sector ${place.sector}: what brings it in takes others out of tolerance`;
    return { ...place, message };
  });
}
