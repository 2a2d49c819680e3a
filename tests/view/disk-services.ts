/** The editor's part of the page, straight on a folder of the disk: what the terminal command uses, behind the page. */
import { join } from 'node:path';
import type { Report } from '../../analysis/results.ts';
import type { ReportServices } from '../../extension/host/report-services.ts';
import { applyWork } from '../../extension/cli/apply.ts';
import { listTakes, readMachineFolder } from '../../extension/files/machine-folder.ts';
import { asText, openSources, readBytesIfThere } from '../../extension/files/read.ts';
import { writeRetrying } from '../../extension/files/write.ts';
import { analyseTake } from '../../extension/take-analysis.ts';

export interface Shown {
  readonly pins: { readonly channel: string; readonly step: number }[];
  readonly places: { readonly file: string; readonly place: string | undefined }[];
  reviews: number;
}

/** @param root real path of a machine's folder; addresses of takes are their names */
export function diskServices(root: string, mayChange = true): ReportServices & { readonly shown: Shown } {
  const shown: Shown = { pins: [], places: [], reviews: 0 };
  const takes = () => listTakes(root, root);
  const never = new AbortController().signal;
  const corrections = (take: string) => join(root, 'takes', take, 'corrections.csv');
  return {
    shown,
    mayChange,
    patternInText: true,
    async readReport(name) {
      return (await takes()).find((take) => take.name === name)?.report ?? null;
    },
    async takesOfMachine() {
      return (await takes()).flatMap(({ name, report }) => (report === null ? [] : [{ take: name, report }]));
    },
    openFiles: (take) => openSources(root, join(root, 'takes', take), take),
    async readCorrections(take) {
      const bytes = await readBytesIfThere(corrections(take));
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
      const history = all
        .slice(0, place)
        .flatMap(({ report }): Report[] => (report === null ? [] : [report]));
      await analyseTake(await readMachineFolder(root, root), all[place], history, { progress, signal });
    },
    showPin: (_, channel, step) => {
      shown.pins.push({ channel, step });
      return Promise.resolve();
    },
    showPlace: (_, file, place) => {
      shown.places.push({ file, place });
      return Promise.resolve();
    },
    review: () => {
      shown.reviews++;
      return Promise.resolve();
    },
    async accept(name, adjusters) {
      const report = (await takes()).find((take) => take.name === name)?.report;
      if (report === null || report === undefined) return null;
      const chosen = report.advice.settings.filter(({ adjuster }) => adjusters.includes(adjuster));
      const fitted = Object.fromEntries(chosen.map(({ adjuster, proposed }) => [adjuster, proposed]));
      return applyWork(await readMachineFolder(root, root), report, report.advice, fitted, never);
    },
    fitted: () => Promise.resolve(null),
  };
}
