import { finding } from '../results/catalogue.ts';
import { withMinus } from '../words/minus.ts';
import type { Finding } from '../results/results.ts';
import type { Check } from './check.ts';

export const outOfRange: Check = {
  id: 'out-of-range',
  looksFor: 'Settings outside their adjuster’s range, or whose sum breaks a limit.',
  run: ({ machine: { description }, take: { settings } }) => {
    const findings: Finding[] = [];
    for (const { id, unit, min, max } of description.adjusters) {
      const setting = settings[id];
      if (setting >= min && setting <= max) continue;
      const message = `${id} stood at ${withMinus(setting)} ${unit}, outside its ${withMinus(min)} to ${withMinus(max)}`;
      findings.push(finding('out-of-range', message, { adjuster: id }));
    }
    for (const { adjusters, sumMin = -Infinity, sumMax = Infinity, why } of description.limits) {
      const sum = adjusters.reduce((total, id) => total + settings[id], 0);
      if (sum >= sumMin && sum <= sumMax) continue;
      const bound = sum < sumMin ? `less than ${withMinus(sumMin)}` : `more than ${withMinus(sumMax)}`;
      const reason = why === undefined ? '' : ` (${why})`;
      const message = `${adjusters.join(' + ')} stood at ${withMinus(sum)} together, ${bound}${reason}`;
      findings.push(finding('out-of-range', message, { adjuster: adjusters[0] }));
    }
    return findings;
  },
};
