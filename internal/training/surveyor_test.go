package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// A surveyor reads of each signature how its signer stood on that day, not how they stand now.
func TestARecordForASurveyorSaysHowTheSignerStoodThatDay(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee)
	for range 2 {
		w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
		w.Pass(24 * time.Hour)
	}
	o, err := w.SignOff(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, training.DemoPassword)
	require.NoError(t, err)
	w.Pass(24 * time.Hour)
	w.educator = w.In("edda")
	entitled, err := w.Records.Entitlements(ctx, w.preceptor.Person.ID)
	require.NoError(t, err)
	require.NoError(t, w.EndEntitlement(ctx, w.educator, w.Key(), w.preceptor.Person.ID, entitled[0].ID, "Left the team."))
	_, err = w.WithdrawSignOff(ctx, w.educator, w.Key(), o.ID, "Given to the wrong person.", training.DemoPassword)
	require.NoError(t, err)

	all, err := w.Survey(ctx, w.educator, []string{w.trainee.Person.ID, w.preceptor.Person.ID})
	require.NoError(t, err)
	require.Len(t, all.Records, 2)
	require.Greater(t, all.Ledger.Size, all.Records[0].Corrected[0].Leaf, "the head holds all that is told")
	one := all.Records[0]
	require.Equal(t, w.trainee.Person.ID, one.Person.ID)
	require.Len(t, one.Demonstrations, 2)
	for _, d := range one.Demonstrations {
		require.Len(t, d.Signatures, 2)
		require.NotEmpty(t, d.ResultJSON)
		then, ok := one.Signers[d.Signatures[1].Leaf]
		require.True(t, ok)
		require.NotNil(t, then.Entitlement, "it ended only later")
		require.Equal(t, entitled[0].ID, then.Entitlement.ID)
		require.NotContains(t, one.Signers, d.Signatures[0].Leaf, "the learner needs none")
	}
	require.Equal(t, entitled[0].ID, one.Signers[o.Leaf].Entitlement.ID)
	require.Equal(t, "Given to the wrong person.", one.SignOffs[0].End.Why)
	require.Len(t, one.Corrected, 1)
	require.Equal(t, training.SignOffWithdrawn, one.Corrected[0].What)
	require.Empty(t, all.Records[1].Demonstrations, "what she watched is in the records of those whom she watched")
	require.Len(t, all.Records[1].Corrected, 1, "her entitlement was ended")

	w.Pass(400 * 24 * time.Hour)
	later, err := w.Survey(ctx, w.educator, []string{w.trainee.Person.ID})
	require.NoError(t, err)
	require.Equal(t, one.Signers[o.Leaf], later.Records[0].Signers[o.Leaf], "a day that is over stays as it was")
}

func TestWhoMayReadARecordForASurveyor(t *testing.T) {
	w := staffed(t)
	for _, who := range []training.Actor{w.trainee, w.preceptor} {
		_, err := w.Survey(ctx, who, []string{w.trainee.Person.ID})
		require.ErrorIs(t, err, training.ErrForbidden)
	}
	_, err := w.Survey(ctx, w.educator, nil)
	require.ErrorIs(t, err, training.ErrInvalid)
	_, err = w.Survey(ctx, w.educator, make([]string, training.MostSurveyed+1))
	require.ErrorIs(t, err, training.ErrInvalid)
	_, err = w.Survey(ctx, w.educator, []string{"nobody"})
	require.ErrorIs(t, err, training.ErrNotFound)
}

// What a person has by a day and what came from paper stand in the record as well.
func TestTheRecordForASurveyorHasItemsAndPaper(t *testing.T) {
	w := staffed(t)
	w.itemsPutRight()
	w.enterPaper(w.aPaper())
	all, err := w.Survey(ctx, w.educator, []string{w.trainee.Person.ID})
	require.NoError(t, err)
	own, err := w.ItemsOfPerson(ctx, w.educator, w.trainee.Person.ID)
	require.NoError(t, err)
	require.Len(t, own.Entries, 2)
	require.Equal(t, own, all.Records[0].Items)
	paper, err := w.EarlierOf(ctx, w.educator, w.trainee.Person.ID)
	require.NoError(t, err)
	require.NotEmpty(t, paper)
	require.Equal(t, paper, all.Records[0].Earlier)
}
