import type { Rule } from '../rules/rule.js';
import type { Block } from './document.js';
import { quantity } from './format.js';

/** The list of rules. */
export function rulesDocument(rules: readonly Rule[]): Block[] {
  return [
    {
      kind: 'title',
      line: [
        { text: `${rules.length} rules`, strong: true },
        '  each answers one question; telltale rules RULE explains one',
      ],
    },
    {
      kind: 'table',
      head: ['rule', 'question'],
      rows: rules.map((rule) => [[{ text: rule.id, strong: true }], rule.question]),
    },
  ];
}

/** One rule explained, from its object alone. */
export function ruleDocument(rule: Rule): Block[] {
  const { needs } = rule;
  return [
    { kind: 'title', line: [{ text: rule.id, strong: true }, `  ${rule.question}`] },
    { kind: 'paragraph', line: rule.why },
    { kind: 'heading', text: 'How it decides' },
    { kind: 'paragraph', line: rule.method },
    { kind: 'heading', text: 'What it needs' },
    {
      kind: 'facts',
      rows: [
        ['Channels', needs.channels.map((id) => alternative(id, needs.instead?.[id])).join(', ') || 'none'],
        ['Helped by', needs.optional.join(', ') || 'none'],
        ['Driving', needs.conditions.join('; ') || 'none'],
        ['Shown by', rule.proves],
      ],
    },
    { kind: 'heading', text: 'Limits', note: 'a profile may override any of them' },
    {
      kind: 'table',
      head: ['name', 'limit', 'of', 'source'],
      rows: rule.limits.map((each) => [
        each.name,
        `${each.comparison} ${quantity(each.value, each.unit)}`,
        each.about,
        each.source,
      ]),
    },
    { kind: 'heading', text: 'What must not fool it' },
    { kind: 'list', ordered: false, items: rule.decoys },
    ...(rule.cautions.length === 0
      ? []
      : ([
          { kind: 'heading', text: 'Cautions' },
          { kind: 'list', ordered: false, items: rule.cautions },
        ] satisfies Block[])),
  ];
}

/** `a, or b` where another channel may stand in. */
function alternative(id: string, other: string | undefined): string {
  return other === undefined ? id : `${id} (or ${other})`;
}
