import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import type { Drive } from '../../../src/derived/recipe.js';
import { assess } from '../../../src/engine/assess.js';
import type { Assessment } from '../../../src/engine/assessment.js';
import { planFor } from '../../../src/plan/plan.js';
import { type Plots, plotsOf } from '../../../src/plots/plots.js';
import { redact } from '../../../src/redaction/redact.js';
import { toJson } from '../../../src/report/json.js';
import { assessmentPage } from '../../../src/report/page/assessment-page.js';
import { PAGE_STYLE } from '../../../src/report/page/page-style.js';
import type { PlotData } from '../../../src/report/page/plot-data.js';
import { RULES } from '../../../src/rules/index.js';
import { readProfile } from '../../../src/vehicle/profile.js';
import type { Vehicle } from '../../../src/vehicle/vehicle.js';

const file = (name: string) => fileURLToPath(new URL(`../../../../../test-data/${name}`, import.meta.url));
const input = (name: string) => ({ name, source: new Uint8Array(readFileSync(file(name))) });
const SCRIPT = 'void 0;';

let vehicle: Vehicle;
let assessment: Assessment;
let plots: Plots;
let page: string;

beforeAll(async () => {
  const profile = readProfile(readFileSync(file('demo.vehicle.yaml'), 'utf8'), 'demo.vehicle.yaml');
  if (!profile.ok) throw new Error('the demo profile is not understood');
  vehicle = profile.value;
  const drives: Drive[] = [];
  assessment = await assess(['demo.csv', 'demo.stored.csv', 'demo.codes.csv'].map(input), {
    vehicle,
    onDrive: (drive) => void drives.push(drive),
  });
  plots = plotsOf(assessment, drives, RULES);
  page = made();
});

function made(of: Assessment = assessment): string {
  return assessmentPage(of, { rules: RULES, plots, plan: planFor(vehicle, of), script: SCRIPT });
}

const data = (html: string) =>
  JSON.parse(/<script type="application\/json" id="plot-data">(.*?)<\/script>/.exec(html)![1]!) as PlotData;

describe('the report page', () => {
  it('allows its own style and script by their hashes and nothing else', () => {
    const policy = /Content-Security-Policy" content="([^"]+)"/.exec(page)![1]!;
    const hash = (text: string) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
    expect(policy).toContain(`style-src ${hash(/<style>([\s\S]*?)<\/style>/.exec(page)![1]!)}`);
    expect(policy).toContain(`script-src ${hash(SCRIPT)}`);
    expect(policy).not.toMatch(/unsafe|http|\*/);
    // A style attribute would need `unsafe-inline`, an address a network.
    expect(page).not.toMatch(/ style="|<link|<img|https?:|url\(|@import/);
    expect(assessmentPage(assessment, { rules: RULES, plots })).not.toContain('<script');
  });

  it('has every finding with its figures, and a link from the drive to each', () => {
    const findings = assessment.results.filter(({ outcome }) => outcome === 'finding');
    expect(findings.length).toBeGreaterThan(3);
    for (const { rule, summary } of findings) {
      expect(page).toContain(`id="finding-${rule.replace(/[^a-z0-9]+/gi, '-')}"`);
      expect(page).toContain(summary.split(';')[0]!);
    }
    const ids = new Set([...page.matchAll(/ id="([^"]+)"/g)].map(([, id]) => id));
    for (const [, to] of page.matchAll(/href="#([^"]*)"/g)) expect(ids, `a link to #${to}`).toContain(to);
    expect(ids.size).toBe([...page.matchAll(/ id="/g)].length);
    for (const id of Object.keys(data(page))) expect(ids).toContain(id);
    expect(page).toMatch(/href="#transmission-over-temperature-1" data-from="680.80"/);
  });

  it('keeps the peak of the evidence in the data that it draws, and its limits', () => {
    const figure = data(page)['transmission-over-temperature-1']!;
    const values = figure.panels[0]!.traces[0]!.values.map((value) => value ?? 0);
    const fluid = assessment.inputs[0]!.channels.find(({ id }) => id === 'transmissionOilTemperature');
    expect(Math.max(...values)).toBeCloseTo(fluid!.range!.high, 3);
    expect(figure.panels[0]!.limits.map(({ value }) => value)).toEqual([115, 125, 140]);
  });

  it('tells the numbers of every figure without its drawing', () => {
    const figures = page.match(/<figure class="plot"/g)!.length;
    expect(page.match(/role="img" aria-label="[^"]{40,}"/g)).toHaveLength(figures);
    expect(page.match(/<details class="numbers">/g)).toHaveLength(figures - 1); // the gears have a table of their own
  });

  it('takes every text as data', () => {
    const hostile = `</script></style><script>alert(1)</script><img src=x onerror=alert(1)>"'&`;
    const copy = JSON.parse(toJson(assessment)) as Assessment;
    const spoilt = JSON.parse(
      JSON.stringify(copy, (key, value: unknown) =>
        typeof value === 'string' &&
        /^(id|file|source|summary|message|proves|reason|text|about)$/.test(key) &&
        !String(value).match(/^[a-z]+$/)
          ? hostile
          : value,
      ),
    ) as Assessment;
    const html = made({ ...spoilt, systems: copy.systems, cautions: [hostile] });
    expect(html).toContain('&lt;script&gt;alert(1)');
    expect(html).not.toMatch(/<script>alert|<img|onerror=(?!alert\(1\)&gt;)/);
    expect(html.match(/<script/g)).toHaveLength(2);
    expect(html.match(/<\/style/g)).toHaveLength(1);
  });

  it('says nothing of what was redacted', () => {
    const shown = redact(assessment);
    const html = assessmentPage(shown, {
      rules: RULES,
      plots,
      plan: planFor({ ...vehicle, id: shown.vehicle.id }, shown),
      script: SCRIPT,
    });
    expect(page).toContain('demo-saloon');
    expect(page).toContain('demo.stored.csv');
    expect(html).not.toMatch(/demo-saloon|demo\.csv|demo\.stored|demo\.codes/);
  });

  it('is the same for the same input, and small', () => {
    expect(made()).toBe(page);
    expect(page.length).toBeLessThan(700_000);
  });

  it('leaves the document of the assessment as it is', async () => {
    const without = await assess(['demo.csv', 'demo.stored.csv', 'demo.codes.csv'].map(input), { vehicle });
    expect(toJson(without)).toBe(toJson(assessment));
  });

  it('draws lines that can be told from their ground in both themes (WCAG 2.2, 1.4.11: 3 : 1)', () => {
    const grounds = ['#ffffff', '#15191c', '#ffffff'];
    const themes = [...PAGE_STYLE.matchAll(/:root \{([^}]+)\}/g)].map(([, text]) =>
      [...text!.matchAll(/--(t\d): (#[0-9a-f]{6})/g)].map(([, , value]) => value!),
    );
    expect(themes).toHaveLength(3);
    themes.forEach((inks, k) => {
      expect(inks).toHaveLength(6);
      for (const ink of inks) expect(contrast(ink, grounds[k]!), `${ink} on ${grounds[k]}`).toBeGreaterThanOrEqual(3);
    });
  });
});

function contrast(a: string, b: string): number {
  const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y) as [number, number];
  return (high + 0.05) / (low + 0.05);
}

/** Relative luminance as WCAG 2.2 defines it. */
function luminance(hex: string): number {
  const [r, g, b] = [1, 3, 5].map((i) => {
    const c = Number.parseInt(hex.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
