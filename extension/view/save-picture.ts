/** "Save picture": the report's drawing with machine, take, verdict and what to change, as one PNG for those who have no editor. */
import { safetyBrief } from '../../analysis/report/page.ts';
import { pictureOf } from '../../analysis/report/plot.ts';
import type { Advice, HitRow } from '../../analysis/results/results.ts';
import { withMinus } from '../../analysis/words/minus.ts';
import { paintSvg } from './paint-svg.ts';
import { asReport, type TakeModel } from './take-model.ts';

/** Sharp in print and on a phone: some 200 dots an inch at the width of a page. */
const finest = 2;
/** Browsers make no canvas that is longer, px. */
const longestSide = 16_000;

/** @returns the file's bytes; null where the browser could not make it */
export async function pngOf(model: TakeModel, advice: Advice): Promise<Uint8Array<ArrayBuffer> | null> {
  const report = { ...asReport(model.head), hits: usedRows(model) };
  const svg = pictureOf(report, changeLines(advice), document) as SVGSVGElement;
  const box = document.createElement('div');
  box.className = 'drawn-aside';
  box.append(svg);
  document.body.append(box);
  try {
    const { height } = svg.getBoundingClientRect();
    const canvas = paintSvg(svg, Math.min(finest, longestSide / height));
    const blob = await new Promise<Blob | null>((settle) =>
      canvas === null ? settle(null) : canvas.toBlob(settle, 'image/png'),
    );
    return blob === null ? null : new Uint8Array(await blob.arrayBuffer());
  } finally {
    box.remove();
  }
}

/** What is said of the change below the verdict: safety stands before every instruction, here too. */
export function changeLines({ settings, summary }: Advice): string[] {
  if (settings.length === 0) return [summary];
  const list = settings.map(
    ({ adjuster, unit, installed, proposed }) =>
      `${adjuster} ${withMinus(installed)} → ${withMinus(proposed)} (${unit})`,
  );
  return [safetyBrief, `To change: ${list.join(', ')}. ${summary}`];
}

function usedRows(model: TakeModel): HitRow[] {
  const { hits } = model;
  const known = (value: number) => (Number.isFinite(value) ? value : null);
  return [...hits.timeS.keys()].flatMap((i): HitRow[] =>
    model.whyOf(i) === null
      ? [
          {
            timeS: hits.timeS[i],
            timeSdS: known(hits.timeSdS[i]),
            track: hits.track[i],
            channel: model.channelOf(i),
            turn: hits.turn[i],
            step: hits.step[i],
            sector: model.sectorOf(i),
            latenessMs: known(hits.latenessMs[i]),
            state: 'used',
          },
        ]
      : [],
  );
}
