/* The plan's questions as a form; what follows is asked for as the answers change. */
(() => {
  "use strict";
  const { byId, make, say, get, post, attempt } = station.front;
  const PAUSE_MS = 400;
  const inputs = new Map();
  let timer = null;
  let turn = 0;

  const ask = ({ table, key, words, example, choices }) => {
    const name = `${table}.${key}`;
    const box = make("div", "asked");
    const label = make("label", "", words);
    const input = make(choices.length ? "select" : "input");
    input.id = `ask-${name}`;
    label.htmlFor = input.id;
    if (choices.length) {
      input.append(...["", ...choices].map((choice) => Object.assign(make("option", "", choice || "not said"), { value: choice })));
    } else {
      input.placeholder = example;
      input.maxLength = 200;
    }
    const wrong = make("p", "wrong");
    wrong.id = `wrong-${name}`;
    wrong.hidden = true;
    input.setAttribute("aria-describedby", wrong.id);
    input.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(look, PAUSE_MS);
    });
    inputs.set(name, { input, wrong });
    box.append(label, input, wrong);
    return box;
  };

  const answers = () => Object.fromEntries([...inputs].map(([name, { input }]) => [name, input.value]));

  const showProblems = (problems) => {
    for (const [name, { input, wrong }] of inputs) {
      const text = problems[name];
      wrong.hidden = !text;
      wrong.textContent = text ? `! ${text}` : "";
      input.setAttribute("aria-invalid", String(Boolean(text)));
    }
  };

  const look = async () => {
    turn += 1;
    const mine = turn;
    try {
      const told = await post("/api/plan", { answers: answers(), write: null });
      if (mine !== turn) return;
      showProblems(told.problems);
      const empty = Object.values(answers()).every((answer) => !answer.trim());
      const bad = Object.keys(told.problems).length;
      byId("write").hidden = empty || bad > 0;
      say(bad ? `${bad === 1 ? "One answer" : `${bad} answers`} cannot be read.` : "", { bad: bad > 0 });
      if (!bad) byId("follows").textContent = empty ? "Nothing yet." : told.follows;
    } catch (error) {
      say(error.message, { bad: true });
    }
  };

  byId("questions").addEventListener("submit", (event) => event.preventDefault());
  byId("write").addEventListener("submit", (event) => {
    event.preventDefault();
    attempt(byId("write-button"), async () => {
      const told = await post("/api/plan", { answers: answers(), write: byId("plan-name").value });
      showProblems(told.problems);
      if (told.written) say(`Written: ${told.written}. The start page offers it for the next flight.`);
    });
  });

  (async () => {
    try {
      const { titles, questions } = await get("/api/plan/questions");
      for (const [table, title] of titles) {
        const part = make("fieldset");
        part.append(make("legend", "", title), ...questions.filter((question) => question.table === table).map(ask));
        byId("questions").append(part);
      }
    } catch (error) {
      say(error.message, { bad: true });
    }
  })();
})();
