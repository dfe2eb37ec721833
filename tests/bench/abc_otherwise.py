"""Tunes of the collection that comes with music21 which it reads otherwise, or which cannot be read, each with the reason.

Of what is played otherwise the notes agree when plain bars stand in place of repeats; how the sections are played was looked at
in each file.
"""

# --- not read: what is wrong in the file -------------------------------------------------------------------

UNREADABLE = {
    "CosmopolitanHornpipe": "=> stands for >=",
    "HeadlightJig": "^3^FGA, a figure without its bracket",
    "MyLadysGoonHasGairsOntStrathspey": "a bracket [ before a word is never closed",
    "PaddyNowWontYouBeEasyJig": "|} stands for |:",
    "PaddysTheBoyJig": ",B stands for B,",
    "YoungAmericaHornpipe": ",F stands for F,",
}

# --- played otherwise: repeats ---------------------------------------------------------------------------

_REFUSED = "music21 refuses the repeats: a sign without its other, or an ending that is closed late"
_BEGINNING = "where no |: stands before :|, music21 plays from the beginning, whatever was repeated before"
_PARTLY = "music21 leaves out measures of a section that is played again, beside endings, :: or a pickup"
_UNSEEN = "music21 takes no repeat from a bar that is not seen, as in [|]:|"
_LONG = "music21 parts a measure that is too long, and the repeat sign goes with one part"
_DOUBLE = "music21 goes back to the beginning, over the double bar after the pickup"

_PLAYED = {
    _REFUSED: """
        AbithaMugginsFavoriteReel AnnieHughesJig BossJig BoyInTheGapReel BoyneHuntReel
        BrooksideHornpipe ComeToYourTayReel ConnaughtLassesReel DownfallOfWaterStreetJig
        DublinLassesReel DustyBobsJig HiberniasPrideReel JackOnTheGreenJig JennyDangedTheWeaverReel
        KittyInTheLaneReel KittyONeilsChampionJig LadyGardnersReel LightAndAiryJig MollyBawnsReel
        MorganRattlerJig MyPrettyFairMaidJig NewLineReel PratiesAreDugAndTheFrostIsAllOverJig
        ScotchPatriotsReel SmashTheWindowsJig ThreeMerrySistersReel TwinKatysReel
    """,
    _BEGINNING: """
        ArkansasTravellerReel BagOfMealThe BanishMisfortune BattleTheCashJig BeebesHornpipe
        BelleOfBostonReel BelleOfTheStageLancashireClog BoyleOReillysReel BullyForYouJig
        CampMeetingJig ComeUnderMyDimityJig ComeUnderMyPladdieJig CrabsInTheSkilletJig CupOfTeaReel
        CzarOfRussiasFavoriteHornpipe DevilsDreamReel DickieRogersPedestalClog EbbTideHornpipe
        EssenceOfOldVirginny FarewellSweetNoraJig FlingDangReel FrogsFrolicJig FromShoreToShoreReel
        GameCockReel GenSheridansReel GreenSleevesJig HandOrganHornpipe HangFireJig
        HobbsFavoriteReel HowardReel HumorsOfGlendartThe JollyTinkersReel JudysReel KittyOfOulartJig
        ManchesterReel MissDalysJig MollInTheWadJig MollRoe MyLoveIsInAmericaReel
        MyLoveIsOnTheOceanReel MyopiaHornpipe NeathTheMoonlightReel NewBostonSicillianCircle
        NightOfFunJigThe NoveltyLancashireClog OldBachelorsReel OldIronsidesLancashireClog
        PaddyHandlysGooseReel PeggyWhifflesReel RedStockingsJig RivalReelThe RollingOffALogJig
        RoughDiamondJig RumAndOnionsJig SebastapolHornpipe ShinsAroundTheFiresideJig ShortGrass
        SkipRopeClog SoldiersCloakJig SteepleChaseReel SwallowsTailThe TellHerIAmJig TemperanceReel
        TerencesRambleReel TomAndJerryReel WhimOfAMomentJigThe
    """,
    _PARTLY: """
        BlackwaterReel CalisthenicHornpipe CosmopoliteReelThe EssenceOfCinnamonSeed
        EssenceOfSugarCane Eviction FillUpTheBowlReel FireHimOutReel KittyCloversReel
        LillibulleroOrProtestantBoys LoveLinksJig MagicSlipperReel MasonsCapReel MaudeMillar
        McDonaldsReel Neumedia QueensGuardsReel SkinThePeelerJig
    """,
    _UNSEEN: """
        CarnivalHornpipe MaggiePickingCockelsReel MysteriesOfKnockJig TelegraphHornpipe
    """,
    _LONG: """
        CelebratedStopHornpipe LafricansJig
    """,
    _DOUBLE: """
        MillTownMaidReel MollyMcGuiresReel
    """,
}

# --- read otherwise: notes -------------------------------------------------------------------------------

_TIES = "music21 reads no ties between notes that sound together"
_BROKEN = "music21 reads no > before a dot, a slur or another >"
_DECORATED = "music21 leaves out a note after H"
_MAIL = "music21 does not know =3D for =, which mail left in the file"
_PICKUP = "the first pickup is longer than half a measure, which is counted as a short measure there"

_READ = {
    _TIES: """
        EssenceOfOldKentucky MardiGrasReel WalkAroundHeyDaddy
    """,
    _BROKEN: """
        BuckleysHornpipe HoleInTheWallJig TidalWaveJig
    """,
    _DECORATED: """
        BellesOfOmahaReel
    """,
    _MAIL: """
        ImOverYoungToMarryYetReel
    """,
    _PICKUP: """
        WalkAroundGwineToDeShow
    """,
}

EXPLAINED = {
    name: reason for table in (_PLAYED, _READ) for reason, names in table.items() for name in names.split()
}
READ_OTHERWISE = frozenset(_READ)
