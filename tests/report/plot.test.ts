import { DOMParser } from '@xmldom/xmldom';
import { parseHTML } from 'linkedom';
import { describe, expect, test } from 'vitest';
import { drawReport } from '../../analysis/report/plot.ts';
import type { Report } from '../../analysis/results/results.ts';
import { barrelReport } from './barrels.ts';
import { exampleReport, hit, hostileWords, namedWith } from './example.ts';

const { document } = parseHTML('<!doctype html><html><body></body></html>');
const draw = (report: Report) => drawReport(report, document);

/** The picture as a strict reader of XML has it; it throws on anything that is not well formed. */
function read(svg: string) {
  const fail = (level: string, message: string) => {
    if (!message.startsWith('Unicode replacement character')) throw new Error(`${level}: ${message}`);
  };
  const root = new DOMParser({ onError: fail }).parseFromString(svg, 'image/svg+xml').documentElement;
  if (root === null) throw new Error('there is no picture');
  const all = (name: string) => Array.from(root.getElementsByTagName(name));
  const groups = all('g');
  const strokes = groups.filter((g) => g.getAttribute('class') === 'strokes');
  return {
    root,
    all,
    texts: all('text').map(({ textContent }) => textContent ?? ''),
    dots: strokes.reduce((sum, g) => sum + g.getElementsByTagName('circle').length, 0),
  };
}

describe('drawReport', () => {
  const picture = read(draw(exampleReport()));

  test('draws every used stroke as a dot, and counts them in words', () => {
    expect(picture.dots).toBe(6);
    expect(picture.texts.some((text) => text.includes('3 strokes'))).toBe(true);
  });

  test('says each mean with its interval, in words what is late, early or not measured', () => {
    for (const words of ['+4.30 ± 0.30', '−3.40 ± 0.30', 'not measured'])
      expect(picture.texts).toContain(words);
    expect(picture.texts.some((text) => text.includes('LATE in A') && text.includes('EARLY in B'))).toBe(
      true,
    );
    expect(picture.texts.join(' ')).toContain('Out of tolerance: 2 of 5 groups');
  });

  test('has a title and a description that say it all to those who hear it', () => {
    const [title, description] = [picture.all('title')[0].textContent, picture.all('desc')[0].textContent];
    expect(title).toBe('Mill Lane attic barrel, take second-round: lateness by sector');
    expect(description).toContain(
      'Gong (3 strokes): sector A +4.30 ± 0.30 ms, LATE; sector B −3.40 ± 0.30 ms, EARLY.',
    );
    expect(picture.root.getAttribute('role')).toBe('img');
  });

  test('stands alone: no script, no style sheet, no address but the namespace’s, no id', () => {
    const svg = draw(exampleReport());
    for (const name of ['script', 'style', 'image', 'use', 'a', 'foreignObject'])
      expect(read(svg).all(name)).toHaveLength(0);
    expect(
      svg.replaceAll('http://www.w3.org/2000/svg', '').replaceAll('http://www.w3.org/1999/xlink', ''),
    ).not.toMatch(/:\/\/|\bid=|NaN|Infinity|undefined/);
  });

  test('the same report gives the same bytes, with numbers to a hundredth', () => {
    const svg = draw(barrelReport(5, 6, 3, 4));
    expect(draw(barrelReport(5, 6, 3, 4))).toBe(svg);
    expect(svg.replace(/>[^<]*</g, '><')).not.toMatch(/\d\.\d{3}/);
  });

  test('leaves the document as it was', () => {
    const before = document.documentElement.outerHTML;
    draw(exampleReport());
    expect(document.documentElement.outerHTML).toBe(before);
  });

  test('set-aside strokes are not drawn', () => {
    const report = exampleReport();
    report.hits.push(hit('gong', 'A', 40, { state: 'set-aside', why: 'outlier' }));
    expect(read(draw(report)).dots).toBe(6);
  });

  test('40 channels × 12 sectors: a panel each, every sector’s mean written', () => {
    const report = barrelReport(40, 12, 2, 2);
    const { all, texts, dots } = read(draw(report));
    expect(all('svg')).toHaveLength(40);
    expect(dots).toBe(40 * 12 * 4);
    expect(texts.filter((text) => /^[+−]?\d+(\.\d)?$/.test(text)).length).toBeGreaterThanOrEqual(480);
  });

  test('200 000 strokes: dots of one place become one, the caption says so, the file stays small', () => {
    const svg = draw(barrelReport(10, 8, 100, 25));
    const { dots, texts } = read(svg);
    expect(dots).toBeLessThan(20_000);
    expect(dots).toBeGreaterThan(1000);
    expect(
      texts.some((text) => text.startsWith('200000 strokes in 10 panels are too many to draw one by one')),
    ).toBe(true);
    expect(svg.length).toBeLessThan(1_000_000);
  });

  test('one channel far out has a scale of its own, and does not flatten the rest', () => {
    const report = barrelReport(5, 3, 3, 3);
    report.groups = report.groups.map((row) => (row.channel === 'striker-4' ? { ...row, meanMs: 80 } : row));
    const { texts } = read(draw(report));
    expect(texts.filter((text) => text.includes('· own scale'))).toHaveLength(1);
  });

  test.each(hostileWords)('%j in every name is text, and the picture is well formed', (word) => {
    const { all, texts } = read(draw(namedWith(word)));
    const plain = read(draw(namedWith('word')));
    for (const name of ['script', 'img', 'b', 'a']) expect(all(name)).toHaveLength(0);
    expect(all('svg')).toHaveLength(plain.all('svg').length);
    expect(all('circle')).toHaveLength(plain.all('circle').length);
    expect(texts.join('')).not.toMatch(/[\u0000-\u0008\u000b\u001b\u202e\ufffe\uffff]/);
  });

  test.each([
    ['nothing heard', { hits: [], groups: [] }],
    [
      'no groups measured',
      { groups: exampleReport().groups.map((row) => ({ ...row, meanMs: null, ci95Ms: null })) },
    ],
    ['a report without the machine’s facts', { channels: undefined, barrel: undefined }],
    ['no interval', { groups: exampleReport().groups.map((row) => ({ ...row, ci95Ms: null })) }],
    ['no tempo', { tempo: { bpm: null, bpmCi95: null, secondsPerTurn: null }, recorded: null }],
  ])('%s: a picture all the same', (_, change) => {
    const svg = draw({ ...exampleReport(), ...change });
    expect(read(svg).all('text').length).toBeGreaterThan(5);
    expect(svg).not.toMatch(/NaN|undefined|Infinity/);
  });
});
