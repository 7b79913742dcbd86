import { createHash } from 'node:crypto';
import { describe, expect, it } from 'vitest';
import { planFor } from '../../src/plan/plan.js';
import type { Block } from '../../src/report/document.js';
import { renderHtml } from '../../src/report/html.js';
import { STYLE } from '../../src/report/html-style.js';
import { planDocument } from '../../src/report/plan-document.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';

const HOSTILE = `</title></style><script>alert(1)</script><img src=x onerror=alert(1)>"'&\u0000\u202e`;
const everywhere: readonly Block[] = [
  { kind: 'title', line: [{ text: HOSTILE, tone: 'stop', strong: true }] },
  { kind: 'heading', text: HOSTILE, note: HOSTILE },
  { kind: 'subheading', line: HOSTILE },
  { kind: 'paragraph', line: [{ text: HOSTILE, tone: 'quiet' }] },
  {
    kind: 'facts',
    rows: [
      [HOSTILE, HOSTILE],
      ['', HOSTILE],
    ],
  },
  { kind: 'list', ordered: true, label: HOSTILE, items: [HOSTILE] },
  { kind: 'code', lines: [HOSTILE] },
  { kind: 'table', head: [HOSTILE, ''], rows: [[HOSTILE, HOSTILE]], right: [1] },
];

/** Names of tags in order; throws when one is closed that is not open. */
function tags(page: string): string[] {
  const open: string[] = [];
  const all: string[] = [];
  for (const [, close, name] of page
    .replace(/<style>[\s\S]*?<\/style>/, '')
    .matchAll(/<(\/?)([a-z][a-z0-9]*)\b[^>]*>/g)) {
    if (name === 'meta') continue;
    if (close === '') {
      open.push(name!);
      all.push(name!);
    } else if (open.pop() !== name) throw new Error(`</${name}> closes nothing`);
  }
  if (open.length > 0) throw new Error(`left open: ${open.join(' ')}`);
  return all;
}

describe('a page', () => {
  it('takes every text as data', () => {
    const page = renderHtml(everywhere);
    expect(new Set(tags(page))).toEqual(
      new Set([
        'html',
        'head',
        'title',
        'body',
        'main',
        'h1',
        'strong',
        'h2',
        'small',
        'h3',
        'p',
        'span',
        'dl',
        'dt',
        'dd',
        'ol',
        'li',
        'pre',
        'div',
        'table',
        'thead',
        'tr',
        'th',
        'td',
        'tbody',
      ]),
    );
    expect(page.match(/<style/g)).toHaveLength(1);
    expect(page).not.toMatch(/<script|<img|onerror=(?!alert\(1\)&gt;)/);
    for (const control of ['\u0000', '\u202e']) expect(page).not.toContain(control);
    expect(page.match(/&lt;script&gt;/g)!.length).toBeGreaterThan(10);
  });

  it('forbids scripts and every network, and its own style is the one that is allowed', () => {
    const page = renderHtml(everywhere);
    const policy = /Content-Security-Policy" content="([^"]+)"/.exec(page)![1]!;
    expect(policy).toMatch(/^default-src 'none'; style-src 'sha256-/);
    expect(policy).not.toMatch(/unsafe|http|\*/);
    const digest = createHash('sha256').update(STYLE).digest('base64');
    expect(policy).toContain(`'sha256-${digest}'`);
    expect(/<style>([\s\S]*?)<\/style>/.exec(page)![1]).toBe(STYLE);
    expect(page).not.toMatch(/https?:|url\(|@import|src=(?!x)|href=/);
  });

  it('holds a real report with its headings in order and one h1', () => {
    const page = renderHtml(planDocument(planFor(UNKNOWN_VEHICLE)));
    const all = tags(page);
    expect(all.filter((name) => name === 'h1')).toHaveLength(1);
    expect(all.indexOf('h1')).toBeLessThan(all.indexOf('h2'));
    expect(page).toMatch(/<title>Plan of the visit<\/title>/);
    expect(page).toBe(renderHtml(planDocument(planFor(UNKNOWN_VEHICLE))));
  });

  it('names columns and rows of a table, and nothing where there is no name', () => {
    const page = renderHtml([
      { kind: 'table', head: ['', 'b'], rows: [['x', 'y']] },
      { kind: 'table', head: ['', ''], rows: [['x', 'y']] },
    ]);
    expect(page.match(/<thead>/g)).toHaveLength(1);
    expect(page).toContain('<td></td><th scope="col">b</th>');
    expect(page).toContain('<th scope="row">x</th><td>y</td>');
  });

  it('keeps text readable on its ground in both themes (WCAG 2.2, 1.4.3: contrast 4.5 : 1)', () => {
    const themes = [...STYLE.matchAll(/:root \{([^}]+)\}/g)].map(([, text]) =>
      Object.fromEntries(
        [...text!.matchAll(/--([a-z]+): (#[0-9a-f]{3,6})/g)].map(([, name, value]) => [name!, value!]),
      ),
    );
    expect(themes).toHaveLength(3);
    let light: Record<string, string> = {};
    for (const theme of themes) {
      light = { ...light, ...theme };
      for (const ground of ['ground', 'panel'])
        for (const ink of ['ink', 'quiet', 'sound', 'watch', 'repair', 'stop', 'unproven'])
          expect(contrast(light[ink]!, light[ground]!), `${ink} on ${ground}`).toBeGreaterThanOrEqual(4.5);
    }
  });
});

/** Relative luminance and contrast ratio as WCAG 2.2 defines them. */
function contrast(a: string, b: string): number {
  const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y) as [number, number];
  return (high + 0.05) / (low + 0.05);
}

function luminance(hex: string): number {
  const long = hex.length === 4 ? hex.replace(/[0-9a-f]/g, '$&$&') : hex;
  const [r, g, b] = [1, 3, 5].map((i) => {
    const c = Number.parseInt(long.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
