/**
 * How much work something was, however fast and busy the computer is: the processor's own time, which a program beside this
 * one does not lengthen, against that of a piece of work that is always the same.
 */

/** Time of this process on the processor so far, ms. */
export function processorMs(): number {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

/** Text taken apart, numbers reckoned and memory filled, as readers do: some 25 ms of a quiet computer of 2024. */
function work(): number {
  let sum = 0;
  for (let round = 0; round < 4; round++) {
    const rows = Array.from({ length: 4000 }, (_, i) => ({ time: (i * 37) % 4001, label: `bell ${i}` }));
    const back = JSON.parse(JSON.stringify(rows)) as typeof rows;
    back.sort((a, b) => a.time - b.time);
    for (const { label } of back) sum += /bell (\d+)/.exec(label)![1].length;
  }
  return sum;
}

let known: number | undefined;

/** The same piece of work here and now, ms of the processor; the best of some, since others take caches away. */
export function referenceMs(): number {
  if (known !== undefined) return known;
  work(); // made fast by the engine first
  known = Math.min(
    ...Array.from({ length: 7 }, () => {
      const start = processorMs();
      work();
      return processorMs() - start;
    }),
  );
  return known;
}
