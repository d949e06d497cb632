import assert from "node:assert/strict";
import test from "node:test";
import cases from "../../../page/testdata/scales.json";
import { rules, span } from "../scale.ts";

const near = (got, want, name) => {
  assert.equal(got.length, want.length, `${name}: ${got} and not ${want}`);
  got.forEach((v, i) => assert.ok(Math.abs(v - want[i]) < 1e-9, `${name}: ${got} and not ${want}`));
};
for (const c of cases) {
  test(`as the still strips: ${c.name}`, () => {
    const s = span(c.lo ?? Infinity, c.hi ?? -Infinity, { ...c, bounds: c.bounds.map((at) => ({ at })) });
    near(s, c.span, "span");
    near(rules(...s), c.rules, "rules");
  });
}
