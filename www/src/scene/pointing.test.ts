/** Pointing: one question at a time, the newest next, none after the pointer left. */
import { expect, it } from "vitest";
import { pointing } from "./pointing.ts";

/** Questions are numbers; they are answered when the test says so. */
function asked() {
  const questions: number[] = [];
  const answers: ((answer: string | null) => void)[] = [];
  const heard: (string | null)[] = [];
  const point = pointing<number, string>(
    (question) => {
      questions.push(question);
      return new Promise((done) => answers.push(done));
    },
    (answer) => heard.push(answer),
  );
  const answer = async (text: string | null): Promise<void> => {
    answers.shift()?.(text);
    await new Promise((later) => setTimeout(later, 0));
  };
  return { questions, heard, point, answer };
}

it("asks one question at a time and then only the newest", async () => {
  const { questions, heard, point, answer } = asked();
  for (const question of [1, 2, 3]) point(question);
  expect(questions).toEqual([1]);
  await answer("a");
  expect(questions).toEqual([1, 3]);
  await answer("b");
  point(4);
  await answer(null);
  expect(questions).toEqual([1, 3, 4]);
  expect(heard).toEqual(["a", "b", null]);
});

it("does not hear an answer that comes when the pointer has left", async () => {
  const { questions, heard, point, answer } = asked();
  point(1);
  point(2);
  point(null);
  expect(heard).toEqual([null]);
  await answer("a");
  expect(questions).toEqual([1]);
  expect(heard).toEqual([null]);
  point(3);
  await answer("c");
  expect(heard).toEqual([null, "c"]);
});

it("asks what came after the pointer was back, though an old question is still open", async () => {
  const { questions, heard, point, answer } = asked();
  point(1);
  point(null);
  point(2);
  await answer("old");
  expect(questions).toEqual([1, 2]);
  await answer("new");
  expect(heard).toEqual([null, "new"]);
});

it("takes a question that fails for one about nothing", async () => {
  const heard: unknown[] = [];
  pointing(() => Promise.reject(new Error("closed")), (answer) => heard.push(answer))(1);
  await new Promise((later) => setTimeout(later, 0));
  expect(heard).toEqual([null]);
});
