import { describe, expect, it } from 'vitest';
import { questionAbout } from '../../src/decision/questions.js';
import { POINTS } from '../../src/sheet/points.js';
import { emptySheet, readSheet } from '../../src/sheet/sheet.js';

describe('the walk-round sheet', () => {
  it('is read back empty as it is written: nothing was looked at', () => {
    const read = readSheet(emptySheet(), 'sheet.yaml');
    expect(read).toEqual({ ok: true, value: POINTS.map(({ id }) => ({ point: id, state: 'not-seen', note: '' })) });
  });

  it('names each point once, with what to look at and how it is judged', () => {
    const ids = POINTS.map(({ id }) => id);
    expect(new Set(ids).size).toBe(ids.length);
    for (const { id, look, watch } of POINTS) {
      expect(id).toMatch(/^[a-z]+\.[a-z]+$/);
      expect(look.length).toBeGreaterThan(20);
      expect(watch).not.toBe('');
    }
  });

  it('takes states with notes, bare states and points of the user’s own', () => {
    const text = `schema: telltale/sheet@1
points:
  body.gaps: { state: watch, note: 'left door' }
  leaks.oil: repair
  towbar.socket: { state: sound }
  body.paint: { state: , note: '' }
`;
    expect(readSheet(text, 'a.yaml')).toEqual({
      ok: true,
      value: [
        { point: 'body.gaps', state: 'watch', note: 'left door' },
        { point: 'leaks.oil', state: 'repair', note: '' },
        { point: 'towbar.socket', state: 'sound', note: '' },
        { point: 'body.paint', state: 'not-seen', note: '' },
      ],
    });
  });

  it('takes CSV, in any of the usual delimiters', () => {
    for (const d of [',', ';', '\t']) {
      const text = ['point,state,note', 'body.gaps,watch,left door', '# a remark', 'leaks.oil,,']
        .join('\n')
        .replaceAll(',', d);
      expect(readSheet(text, 'a.csv')).toEqual({
        ok: true,
        value: [
          { point: 'body.gaps', state: 'watch', note: 'left door' },
          { point: 'leaks.oil', state: 'not-seen', note: '' },
        ],
      });
    }
  });

  it.each([
    ['schema: telltale/sheet@1\npoints:\n  body.gaps: { state: fine }\n', 3, /"fine".*sound, watch, repair, stop/],
    ['schema: telltale/sheet@1\npoints:\n  a.b: sound\n  body.gaps: bad\n', 4, /sound, watch, repair, stop/],
    ['schema: telltale/sheet@2\npoints: {}\n', 1, /telltale\/sheet@1/],
    ['point,state,note\nbody.gaps,watch,\nleaks.oil,bad,\n', 3, /leaks\.oil: found "bad"/],
    ['point,state,note\n,watch,\n', 2, /found no point/],
  ])('tells the line of a fault: %j', (text, line, message) => {
    const read = readSheet(text, 'a');
    expect(read.ok).toBe(false);
    if (read.ok) return;
    expect(read.faults[0]).toMatchObject({ code: 'bad-sheet', line });
    expect(read.faults[0]!.message).toMatch(message);
  });

  it('has a question for the seller where a topic has one', () => {
    expect(questionAbout('body.gaps')).toMatch(/accidents/);
    expect(questionAbout('engine.knock')).toMatch(/fuel/);
    expect(questionAbout('engine.idle')).toBe(questionAbout('engine.start-quality'));
    expect(questionAbout('towbar.socket')).toBeUndefined();
  });
});
