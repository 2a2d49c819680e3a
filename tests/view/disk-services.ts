/** The editor's part of the page, straight on a folder of the disk: what the terminal command uses, behind the page. */
import { asText } from '../../extension/common/utf8.ts';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { advise } from '../../analysis/advice/advise.ts';
import { openingsOf } from '../../analysis/report/sheet/openings.ts';
import { recordWords } from '../../analysis/report/sheet/sheet.ts';
import type { Finding } from '../../analysis/results/results.ts';
import type { ReportServices } from '../../extension/host/report-services.ts';
import { applyWork } from '../../extension/cli/apply.ts';
import { listTakes, readMachineFolder } from '../../extension/files/machine-folder.ts';
import { readReport } from '../../extension/files/report-file.ts';
import { openSources, readInside } from '../../extension/files/read.ts';
import { writeHeard } from '../../extension/files/hear-folder.ts';
import { writeRetrying } from '../../extension/files/write.ts';
import { readClips } from '../../extension/work/clips.ts';
import { nodeSolver } from '../../extension/files/solver-node.ts';
import { analyseTake } from '../../extension/files/take-analysis.ts';

export interface Shown {
  readonly pins: { readonly channel: string; readonly step: number }[];
  readonly findings: Finding[];
  reviews: number;
}

/** @param root real path of a machine's folder; addresses of takes are their names */
export function diskServices(root: string, mayChange = true): ReportServices & { readonly shown: Shown } {
  const shown: Shown = { pins: [], findings: [], reviews: 0 };
  const takes = () => listTakes(root, root);
  const never = new AbortController().signal;
  const corrections = (take: string) => join(root, 'takes', take, 'corrections.csv');
  return {
    shown,
    mayChange,
    patternInText: () => Promise.resolve(true),
    isThere: (name) => Promise.resolve(existsSync(join(root, 'takes', name))),
    async readReport(name) {
      const take = (await takes()).find((one) => one.name === name);
      return take === undefined ? null : readReport(root, take.folder, take.shown);
    },
    async takesOfMachine() {
      return (await takes()).flatMap(({ name, report }) => (report === null ? [] : [{ take: name, report }]));
    },
    async standing(name) {
      const newest = (await takes()).findLast(({ report }) => report !== null);
      return { newest: newest === undefined || newest.name === name ? null : newest.name, told: null };
    },
    async adviceNow(_, signal) {
      const reports = (await takes()).flatMap(({ report }) => report ?? []);
      const { machine } = await readMachineFolder(root, root);
      const advice = await advise(machine, reports, nodeSolver(), { signal });
      const newest = reports.at(-1)!;
      const record = recordWords(newest, advice, advice.settings.length > 0);
      return { advice, openings: openingsOf(machine, newest, advice), record };
    },
    savePicture: () => Promise.resolve('saved'),
    openStrokes: () => Promise.resolve(),
    showNewest: () => Promise.resolve(),
    machineOf: async () => (await readMachineFolder(root, root)).machine,
    async hear(name, report, signal) {
      const take = (await takes()).find((one) => one.name === name)!;
      const { machine } = await readMachineFolder(root, root);
      const { before, after } = await writeHeard(root, take, machine, report, { signal });
      return `Written: ${before} and ${after}`;
    },
    async clips(take, wants) {
      const sources = await openSources(root, join(root, 'takes', take), take);
      try {
        return await readClips(sources.files, wants);
      } finally {
        await sources.close();
      }
    },
    async readCorrections(take) {
      const bytes = await readInside(root, corrections(take), 'corrections.csv');
      return bytes === null ? null : asText(bytes, 'corrections.csv');
    },
    changeCorrections: (take, change) =>
      writeRetrying(
        root,
        corrections(take),
        (before) => {
          const text = change(before === null ? null : asText(before, 'corrections.csv'));
          return [{ path: corrections(take), before, bytes: new TextEncoder().encode(text) }];
        },
        never,
      ),
    async analyse(name, progress, signal) {
      const all = await takes();
      const place = all.findIndex((take) => take.name === name);
      const before = all.slice(0, place).flatMap(({ report }) => (report === null ? [] : [report]));
      await analyseTake(await readMachineFolder(root, root), all[place], () => Promise.resolve(before), {
        progress,
        signal,
      });
    },
    showPin: (_, channel, step) => {
      shown.pins.push({ channel, step });
      return Promise.resolve();
    },
    showFinding: (_, finding) => {
      shown.findings.push(finding);
      return Promise.resolve();
    },
    review: () => {
      shown.reviews++;
      return Promise.resolve();
    },
    async accept(name, asProposed, others) {
      const report = (await takes()).find((take) => take.name === name)?.report ?? null;
      if (report === null) return null;
      const { advice } = await this.adviceNow(name, never);
      const fitted = { ...asProposed, ...others };
      return applyWork(await readMachineFolder(root, root), report, advice, fitted, never);
    },
    fitted: () => Promise.resolve(null),
  };
}
