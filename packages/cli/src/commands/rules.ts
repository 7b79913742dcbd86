import {
  didYouMean,
  RULES,
  renderMarkdown,
  renderText,
  ruleDocument,
  ruleRecord,
  rulesDocument,
  toJson,
} from '@telltale/core';
import { EXIT, UserError } from '../exit-code.js';
import type { Terminal } from '../terminal/output.js';
import { paintFor } from '../terminal/paint.js';

export interface RulesFlags {
  readonly json?: boolean | undefined;
  readonly markdown?: boolean | undefined;
}

/** `telltale rules [RULE]`: lists the rules, or explains one. @returns the exit code. */
export function rulesCommand(id: string | undefined, flags: RulesFlags, terminal: Terminal): number {
  const rule = RULES.find((each) => each.id === id);
  const system = RULES.filter((each) => each.system === id);
  const listed = system.length > 0 ? system : RULES;
  if (id !== undefined && rule === undefined && system.length === 0) {
    const known = RULES.map((each) => each.id);
    throw new UserError(
      'unknown-rule',
      `found rule ${id}, expected one that telltale rules lists${didYouMean(id, known)}`,
    );
  }
  if (flags.json) {
    terminal.out(toJson({ schema: 'telltale/rules@1', rules: (rule === undefined ? listed : [rule]).map(ruleRecord) }));
    return EXIT.done;
  }
  const blocks = rule === undefined ? rulesDocument(listed) : ruleDocument(rule);
  terminal.out(
    flags.markdown
      ? renderMarkdown(blocks)
      : renderText(blocks, { width: terminal.width, paint: paintFor(terminal.color) }),
  );
  return EXIT.done;
}
